#include "compiler/physics/substance.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <utility>

namespace athanor::physics {

namespace {

constexpr std::array table{
    Substance{"H2", {1.797e-7, 0.685, -0.59, 140, 13.95, 3000}, 6.12, 0, 0, 0},
    Substance{"N2", {6.5592e-7, 0.6081, 54.714, 0, 63.15, 1970}, 18.5, 126.192, 3.3958e6, 0.0372},
    Substance{"Ar", {9.2121e-7, 0.60529, 83.24, 0, 83.78, 3273.1}, 16.2, 150.687, 4.863e6, -0.00219},
    Substance{"He", {3.253e-7, 0.7162, -9.6, 107, 20, 2000}, 2.67, 0, 0, 0},
    Substance{"O2", {1.101e-6, 0.5634, 96.3, 0, 54.35, 1500}, 16.3, 154.581, 5.043e6, 0.0222},
    Substance{"CO2", {2.148e-6, 0.46, 290, 0, 194.67, 1500}, 26.9, 304.128, 7.3773e6, 0.2239},
    Substance{"CO", {1.1127e-6, 0.5338, 94.7, 0, 68.15, 1250}, 18.0, 132.86, 3.494e6, 0.0497},
    Substance{"CH4", {5.2546e-7, 0.59006, 105.67, 0, 90.69, 1000}, 25.14, 190.564, 4.5992e6, 0.0114},
    Substance{"NH3", {4.1855e-8, 0.9806, 30.8, 0, 195.41, 1000}, 20.7, 405.4, 1.1333e7, 0.2558},
    Substance{"H2O", {1.7096e-8, 1.1146, 0, 0, 273.16, 1073.15}, 13.1, 647.096, 2.2064e7, 0.3443},
};

} // namespace

std::span<const Substance> substances() {
    return table;
}

const Substance* substance(std::string_view formula) {
    for (const Substance& s : table)
        if (s.formula == formula) return &s;
    return nullptr;
}

Composition composition(std::string_view formula) {
    // One level of `( )` per call; `at` stands behind the closing one.
    const auto read = [&](const auto& self, std::size_t& at, bool inside) -> std::optional<Composition> {
        Composition sum;
        const auto is = [&](int (*kind)(int)) {
            return at < formula.size() && kind(static_cast<unsigned char>(formula[at])) != 0;
        };
        while (at < formula.size()) {
            Composition part;
            if (formula[at] == '(') {
                ++at;
                auto inner = self(self, at, true);
                if (!inner || at == formula.size()) return std::nullopt;
                ++at;
                part = std::move(*inner);
            } else if (is(std::isupper)) {
                const std::size_t begin = at++;
                while (is(std::islower)) ++at;
                part[std::string(formula.substr(begin, at - begin))] = 1;
            } else if (inside && formula[at] == ')') {
                return sum;
            } else {
                return std::nullopt;
            }
            const bool counted = is(std::isdigit);
            unsigned times = 0;
            while (is(std::isdigit)) times = std::min(times * 10 + unsigned(formula[at++] - '0'), 1000000U);
            for (const auto& [element, count] : part) sum[element] += count * (counted ? times : 1);
        }
        return inside ? std::nullopt : std::optional(std::move(sum));
    };
    std::size_t at = 0;
    return read(read, at, false).value_or(Composition{});
}

std::optional<double> oxygen_demand(std::string_view formula) {
    const Composition parts = composition(formula);
    if (parts.empty()) return std::nullopt;
    double demand = 0;
    for (const auto& [element, count] : parts) {
        if (element == "C" || element == "S")
            demand += count;
        else if (element == "H")
            demand += count / 4.0;
        else if (element == "O")
            demand -= count / 2.0;
        else if (element != "N" && element != "Ar" && element != "He" && element != "Ne" && element != "Kr" &&
                 element != "Xe")
            return std::nullopt;
    }
    return demand;
}

} // namespace athanor::physics
