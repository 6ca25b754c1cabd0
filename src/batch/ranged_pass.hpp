#pragma once
// Private to batch/: what passes share whose range is that of the whole picture.

#include <algorithm>
#include <cmath>
#include <limits>

#include "batch/passes.hpp"
#include "image/kept_values.hpp"

namespace rakelight {

/// Codes that are made at a time from values that were kept.
inline constexpr std::size_t codes_at_a_time = std::size_t{1} << 20;

/// Values of a pass that are kept in memory; those of larger pictures go to a file meanwhile.
inline constexpr std::size_t most_in_memory = std::size_t{32} << 20;

/// Smallest, largest and mean value over the pixels that the subject covers.
class Spread {
public:
    void add(double value) {
        low_ = std::min(low_, value);
        high_ = std::max(high_, value);
        sum_ += value;
        ++count_;
    }
    std::vector<NamedNumber> numbers(const std::string& unit) const {
        const double n = static_cast<double>(std::max<std::uint64_t>(count_, 1));
        return {{"min" + unit, count_ > 0 ? low_ : 0.0},
                {"max" + unit, count_ > 0 ? high_ : 0.0},
                {"mean" + unit, sum_ / n}};
    }
    double low() const { return count_ > 0 ? low_ : 0.0; }
    double high() const { return count_ > 0 ? high_ : 0.0; }
    double magnitude() const {
        return count_ > 0 ? std::max(std::abs(low_), std::abs(high_)) : 0.0;
    }

private:
    double low_ = std::numeric_limits<double>::max();
    double high_ = std::numeric_limits<double>::lowest();
    double sum_ = 0.0;
    std::uint64_t count_ = 0;
};

/// Four digits, rounded away from the middle of a range by std::floor or std::ceil, so that the
/// range still holds the value.
std::string outward(double value, double (*round)(double));

/// DepthEncoding's, in words.
inline constexpr const char* depth_formula =
    "code = round(65535 (far_margin + (1 - near_margin - far_margin) (far_mm - z) / "
    "(far_mm - near_mm))); z = far_mm - (code / 65535 - far_margin) (far_mm - near_mm) / "
    "(1 - near_margin - far_margin)";

/// A picture with its name and file.
Picture named_picture(const std::string& name);

/// A pass whose range is that of the whole picture: it keeps its values until the last is known.
class RangedPass : public Pass {
public:
    RangedPass(Picture picture, const PassPlace& place)
        : Pass(std::move(picture), place), kept_(place.outputs.folder(), most_in_memory) {}

protected:
    /// Writes all that was kept, whole rows at a time.
    template <typename Encode>
    void write_kept(const Encode& encode) {
        const auto width = static_cast<std::size_t>(grid_.width);
        std::vector<std::uint16_t> codes;
        kept_.read(std::max<std::size_t>(codes_at_a_time / width, 1) * width,
                   [&](std::span<const float> values) {
                       codes.resize(values.size());
                       std::transform(values.begin(), values.end(), codes.begin(), encode);
                       file_.add_rows(picture_, codes);
                   });
    }

    KeptValues kept_;
    Spread spread_;
};

}  // namespace rakelight
