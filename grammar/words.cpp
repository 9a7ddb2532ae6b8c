#include "grammar/words.hpp"

#include <algorithm>
#include <array>
#include <string>

namespace athanor::grammar {
namespace {

struct Formula {
    std::string_view formula, gas;
};
// As in recipes/standard/gases.ath (a test compares), which is not yet read when a slip in a name is told.
constexpr std::array formulas{
    Formula{"n2", "nitrogen"},        Formula{"ar", "argon"},           Formula{"he", "helium"},
    Formula{"co2", "carbon_dioxide"}, Formula{"o2", "oxygen"},          Formula{"h2o", "water"},
    Formula{"h2", "hydrogen"},        Formula{"co", "carbon_monoxide"}, Formula{"ch4", "methane"},
    Formula{"nh3", "ammonia"},        Formula{"c3h8", "propane"},       Formula{"h2s", "hydrogen_sulfide"},
};

} // namespace

constinit const Lexicon<word_count()> lexicon(word_texts);

std::string_view gas_of_formula(std::string_view formula) {
    std::string lower(formula);
    for (char& c : lower)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    for (const Formula& known : formulas)
        if (known.formula == lower) return known.gas;
    return {};
}

bool library_gas(std::string_view name) {
    return std::any_of(formulas.begin(), formulas.end(),
                       [&](const Formula& known) { return known.gas == name; });
}

bool has_capital(std::string_view name) {
    return std::any_of(name.begin(), name.end(), [](char c) { return c >= 'A' && c <= 'Z'; });
}

unsigned edit_distance(std::string_view a, std::string_view b) {
    constexpr unsigned far = 3;
    constexpr std::size_t longest = 32;
    if (a.size() > longest || b.size() > longest) return far;
    if (std::max(a.size(), b.size()) - std::min(a.size(), b.size()) >= far) return far;
    // Three rows of the optimal string alignment table.
    std::array<std::array<unsigned, longest + 1>, 3> rows{};
    for (std::size_t j = 0; j <= b.size(); ++j) rows[0][j] = static_cast<unsigned>(j);
    for (std::size_t i = 1; i <= a.size(); ++i) {
        auto& row = rows[i % 3];
        const auto& above = rows[(i + 2) % 3];
        row[0] = static_cast<unsigned>(i);
        for (std::size_t j = 1; j <= b.size(); ++j) {
            unsigned change = above[j - 1] + (a[i - 1] == b[j - 1] ? 0U : 1U);
            row[j] = std::min({above[j] + 1, row[j - 1] + 1, change});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = std::min(row[j], rows[(i + 1) % 3][j - 2] + 1);
        }
    }
    return std::min(rows[a.size() % 3][b.size()], far);
}

bool surely_named(std::string_view wrong, std::string_view right) {
    if (edit_distance(wrong, right) != 1) return false;
    while (true) {
        const std::size_t a = wrong.find('_'), b = right.find('_');
        const std::string_view one = wrong.substr(0, a), other = right.substr(0, b);
        if (one != other) {
            const auto letters = [](std::string_view part) {
                return part.size() >= 4 && part.find_first_of("0123456789") == std::string_view::npos;
            };
            return letters(one) && letters(other);
        }
        if (a == std::string_view::npos || b == std::string_view::npos) return false;
        wrong.remove_prefix(a + 1);
        right.remove_prefix(b + 1);
    }
}

} // namespace athanor::grammar
