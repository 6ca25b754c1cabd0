// Included by heights.comp, occlusion.frag and occlusion.comp: heights over the floor, and what a
// horizon closes; see occlusion.frag.
#ifdef PERSPECTIVE
uniform float floor_mm;
uniform float eye_mm;
uniform vec2 first_mm;  // on the blank, from the view axis: the centre of target pixel (0, 0)
uniform float mm_per_px;
#endif

const float NO_SURFACE_MM = -1e9;  // so far below that nothing rises out of it
const float NO_HORIZON = -1e18;
const float FALL_BEYOND_REACH = 4.0;

// The height that stands for a lift.
float height_of(float lift) {
    if (lift <= 0.0) return NO_SURFACE_MM;
#ifdef PERSPECTIVE
    float z = lift + floor_mm;
    return z / (1.0 - z / eye_mm);
#else
    return lift;
#endif
}

// A rise cut to the highest that lies within the reach. What lies below the reach falls away so
// fast that it hides nothing, but without a jump, which would draw a line on the picture. Holds for
// slopes and for their squares with the sign kept.
vec2 within_reach(vec2 rise, vec2 highest) {
    vec2 cut = min(rise, highest);
    return min(cut, (1.0 + FALL_BEYOND_REACH) * cut + FALL_BEYOND_REACH * highest);
}

// The angle from +x to (x, y), y >= 0: Abramowitz and Stegun, 4.4.49. Drivers' own differ.
float angle_of(float x, float y) {
    const float quarter = 1.57079632679;
    float width = abs(x);
    float t = min(width, y) / max(max(width, y), 1e-30);
    float s = t * t;
    float sum = 0.0028662257;
    sum = sum * s - 0.0161657367;
    sum = sum * s + 0.0429096138;
    sum = sum * s - 0.0752896400;
    sum = sum * s + 0.1065626393;
    sum = sum * s - 0.1420889944;
    sum = sum * s + 0.1999355085;
    sum = sum * s - 0.3333314528;
    float low = t + t * s * sum;
    float from_x = width > y ? low : quarter - low;
    return x < 0.0 ? 2.0 * quarter - from_x : from_x;
}

// The part of a slice's integral between the horizon and the tangent plane, when the horizon is
// the higher: with the angle b between them, and t of the normal from the view ray within the slice,
// half of cos t sin^2 b + sin t (b - sin b cos b), times the normal's length within the slice.
// It is what equation 10 leaves out at the horizon. `run` goes across the view ray, `slope` along.
float closed_side(float slope, float run, float facing, float across) {
    float up = facing * slope + across * run;
    if (up <= 0.0) return 0.0;
    float side = facing * run - across * slope;
    float size = (facing * facing + across * across) * (run * run + slope * slope);
    float per = 1.0 / max(size, 1e-30);
    return 0.5 * (facing * (up * up * per) + across * (angle_of(side, up) - up * side * per));
}

// How a pixel sees the surface there. In parallel projection lean and ray are 0, grow and run are 1.
struct Look {
    float facing;  // the normal along the view ray
    vec2 ray;      // from the eye; its third part is -eye * per
    float grow;    // (1 - z / eye) / cos(ray)
};

Look look_at(ivec2 pixel, float here, vec3 normal) {
#ifdef PERSPECTIVE
    vec2 on_blank = first_mm + vec2(pixel.x, -pixel.y) * mm_per_px;
    float per = 1.0 / length(vec3(on_blank, eye_mm));
    vec2 ray = on_blank * per;
    float facing = max(eye_mm * per * normal.z - dot(ray, normal.xy), 0.0);
    return Look(facing, ray, 1.0 / ((1.0 + here / eye_mm) * eye_mm * per));
#else
    return Look(max(normal.z, 0.0), vec2(0.0), 1.0);
#endif
}

// One slice's view of a pixel.
struct Cut {
    float lean;    // of the view ray, along the slice
    float run2;    // squared, and
    float run;     // of a step along the slice, across the view ray
    float across;  // the normal along the slice, square to the view ray
};

Cut cut_along(vec2 along, Look look, vec3 normal) {
    float across = dot(normal.xy, along);
#ifdef PERSPECTIVE
    float lean = dot(look.ray, along);
    float run2 = 1.0 - lean * lean;
    float run = sqrt(run2);
    return Cut(lean, run2, run, (across + lean * look.facing) / run);
#else
    return Cut(0.0, 1.0, 1.0, across);
#endif
}

// What bounds the slopes at a distance, from the reach by the distance: the highest slope that lies
// within the reach. In perspective that differs among pixels, and stays the reach's share.
float limit_at(float reach_share) {
#ifdef PERSPECTIVE
    return reach_share;
#else
    return sqrt(max(reach_share * reach_share - 1.0, 0.0));
#endif
}

// The slopes, or in perspective their squares with the sign kept, to heights ahead and behind at
// one distance, cut to the reach. per_mm is one by the distance, limit its limit_at.
vec2 slopes_to(vec2 height, float here, float per_mm, float limit, Look look, Cut cut) {
    vec2 rise = (height - here) * per_mm;
#ifdef PERSPECTIVE
    rise = rise * look.grow - vec2(cut.lean, -cut.lean);
    rise *= abs(rise);
    // A column stands along its view ray, and how far it is depends on the height at which it is
    // reached: that of its top, or, under a taller one, about where it leaves the sphere of reach.
    float reach_here = limit * (1.0 + here / eye_mm);
    float beyond = reach_here * reach_here - cut.run2;
    vec2 leaves = vec2(sign(beyond) * sqrt(abs(beyond))) + vec2(cut.lean, -cut.lean);
    vec2 level = min(height, here + leaves / (look.grow * per_mm));
    vec2 reach_there = limit * (1.0 + level / eye_mm);
    vec2 highest = reach_there * reach_there - cut.run2;
#else
    vec2 highest = vec2(limit);
#endif
    return within_reach(rise, highest);
}

// What a slice closes, and what it would if nothing were open.
vec2 closed_and_all(vec2 horizon, Look look, Cut cut) {
#ifdef PERSPECTIVE
    horizon = sign(horizon) * sqrt(abs(horizon));
#endif
    float size = abs(cut.across);
    return vec2(closed_side(horizon.x, cut.run, look.facing, cut.across) +
                    closed_side(horizon.y, cut.run, look.facing, -cut.across),
                look.facing + size * angle_of(look.facing, size));
}
