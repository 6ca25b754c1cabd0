// Mean curvature of the visible surface at each pixel: half the trace of the shape operator, fitted
// by least squares to how the normal changes over the eight neighbours (dn = S dp; do Carmo,
// "Differential Geometry of Curves and Surfaces", section 3-2). Both changes are taken as they show
// on the picture, dn shifted along the view ray as dp is: that is a change of basis of the tangent
// plane, which leaves the trace alone, and dp becomes the offset of the pixel. Exact on a sphere
// in any projection. Neighbours beyond a depth step are left out: a step is contour, not curvature.
// smooth.glsl then takes the mean at the scale.
//
// src/render/curvature_processor.cpp does the same, line by line: change both.
// Gives the curvature, 1/mm, times its trust; the trust.
vec2 fit_at(ivec2 pixel) {
    Surface here = surface_at(pixel);
    if (here.lift <= 0.0) return vec2(0.0);
    vec2 lean = lean_at(pixel);
    vec3 moments = vec3(0.0);  // sums of w dp dp^T: xx, xy, yy
    vec3 changes = vec3(0.0);  // sums of w dn dp^T: xx, xy and yx, yy
    for (int y = -1; y <= 1; ++y) {
        for (int x = -1; x <= 1; ++x) {
            if (x == 0 && y == 0) continue;
            Surface there = surface_at(pixel + ivec2(x, y));
            if (there.lift <= 0.0) continue;
            vec2 dp = offset_mm(ivec2(x, y), there.lift);
            vec3 turn = there.normal - here.normal;
            vec2 dn = turn.xy + turn.z * lean;
            float w = one_piece(here, lean, there, dp);
            moments += w * vec3(dp.x * dp.x, dp.x * dp.y, dp.y * dp.y);
            changes += w * vec3(dn.x * dp.x, dn.x * dp.y + dn.y * dp.x, dn.y * dp.y);
        }
    }
    float size = moments.x + moments.z;
    if (size <= 0.0) return vec2(0.0);
    moments.xz += 1e-6 * size;  // keeps one line of neighbours solvable
    float determinant = moments.x * moments.z - moments.y * moments.y;
    float trace = changes.x * moments.z - changes.y * moments.y + changes.z * moments.x;
    // A fit to all eight neighbours has full trust; one to a few on one side of a step, whose error
    // is larger, has that much less: the determinant's share, squared.
    float scale = mm_per_px;
#ifdef PERSPECTIVE
    scale *= 1.0 - (here.lift + floor_mm) / eye_mm;
#endif
    float share = min(determinant / (36.0 * scale * scale * scale * scale), 1.0);
    return vec2(0.5 * trace / determinant, 1.0) * share * share;
}
