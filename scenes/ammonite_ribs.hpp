// Ribs: strong primaries that rise at the umbilical shoulder and fork on the flank.
#pragma once

// Heights are in units of the whorl's height. Growth is the angle left to the aperture, told
// along the growth lines.
class RibPattern {
public:
    double height(double growth_rad, double flank) const;

    // Counts the primaries: 0 at the aperture, negative before it, a crest near every whole number.
    double clock(double growth_rad) const;

private:
    double primaries_on_last_whorl_ = 36.0;
    double primaries_gain_per_whorl_ = 1.18;  // more on every whorl, but wider apart
    double full_height_ = 0.052;
};
