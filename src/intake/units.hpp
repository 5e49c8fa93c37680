#pragma once

#include <string>
#include <string_view>

namespace luxdossier::intake {

// Units as files write them, by way of udunits2, which is not thread-safe: call from one thread only.

/// A kind of quantity: its canonical unit and its name in messages.
struct Dimension {
    std::string_view unit;      ///< canonical: "lx", "m", "s", "rad", "K", "1", "1/K" ...
    std::string_view quantity;  ///< "an illuminance"
};

inline constexpr Dimension illuminance{"lx", "an illuminance"};
inline constexpr Dimension length{"m", "a length"};
inline constexpr Dimension duration{"s", "a time"};
inline constexpr Dimension plane_angle{"rad", "an angle"};
inline constexpr Dimension angle_in_degree{"degree", "an angle"};  ///< conditions: plane
inline constexpr Dimension temperature{"K", "a temperature"};
inline constexpr Dimension ratio{"1", "a ratio"};
inline constexpr Dimension rate_per_second{"1/s", "a frequency"};
inline constexpr Dimension drift_rate{"1/year", "a drift"};
inline constexpr Dimension temperature_rate{"1/K", "a temperature coefficient"};
inline constexpr Dimension irradiance{"W/m2", "an irradiance"};

/// Canonical value = scale * written value + offset.
struct Conversion {
    double scale = 1;
    double offset = 0;
    [[nodiscard]] double operator()(double written) const { return written * scale + offset; }
    [[nodiscard]] bool is_identity() const { return scale == 1 && offset == 0; }
};

enum class UnitState { known, unknown, other_dimension };
struct UnitAnswer {
    UnitState state = UnitState::unknown;
    Conversion conversion;
};

/// How to get from a unit as written to another unit of the same dimension. Plane angles are no pure numbers
/// here and steradians count, so that neither a percentage passes for an angle nor a luminance for an
/// illuminance.
[[nodiscard]] UnitAnswer convert_unit(std::string_view written, std::string_view wanted);

/// The unit in which a condition of a name of the user's own is kept: the first canonical unit of its
/// dimension, else the unit as written; empty where the unit is unknown.
[[nodiscard]] std::string canonical_unit(std::string_view written);

/// What to write instead of a unit that is unknown or of another dimension: advice for a message; may be
/// empty.
[[nodiscard]] std::string unit_advice(std::string_view written, const Dimension& dimension);

/// "such as lx, klx or mlx": what a message expects for a dimension.
[[nodiscard]] std::string unit_examples(const Dimension& dimension);

/// A converted value without the last digit's noise, for ids and levels: 0.3 klx is 300 lx.
/// Rounded to 15 significant digits.
[[nodiscard]] double without_noise(double value);

}  // namespace luxdossier::intake
