#pragma once

#include "layout/page.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <variant>
#include <vector>

namespace luxdossier::test {

// Reads a drawn page: what carries a role, and the values that its ticks give to places.

template <class Item>
std::vector<Item> items(const layout::Page& page, const std::string& role)
{
    std::vector<Item> found;
    for (const auto& item : page.items) {
        if (const auto* own = std::get_if<Item>(&item); own != nullptr && own->role == role)
            found.push_back(*own);
    }
    return found;
}
inline std::vector<layout::PathItem> paths(const layout::Page& page, const std::string& role)
{
    return items<layout::PathItem>(page, role);
}
inline std::vector<layout::TextItem> texts(const layout::Page& page, const std::string& role)
{
    return items<layout::TextItem>(page, role);
}

inline layout::Position middle(const layout::PathItem& path)
{
    double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
    for (const auto& point : path.points) {
        left = std::min(left, point.x);
        right = std::max(right, point.x);
        top = std::min(top, point.y);
        bottom = std::max(bottom, point.y);
    }
    return {(left + right) / 2, (top + bottom) / 2};
}

/// A printed number: real minus, digits grouped by narrow spaces.
inline double printed_number(std::string text)
{
    const auto replace = [&](const std::string& from, const std::string& to) {
        for (auto at = text.find(from); at != std::string::npos; at = text.find(from))
            text.replace(at, from.size(), to);
    };
    replace("\u2212", "-");
    replace("\u202F", "");
    replace("\u2009", "");
    return std::stod(text);
}

/// Places and values of two ticks.
struct Ruler {
    double place_a = 0, value_a = 0, place_b = 1, value_b = 1;
    bool logarithmic = false;
    [[nodiscard]] double value(double place) const
    {
        const double share = (place - place_a) / (place_b - place_a);
        return logarithmic ? value_a * std::pow(value_b / value_a, share)
                           : value_a + (value_b - value_a) * share;
    }
};

}  // namespace luxdossier::test
