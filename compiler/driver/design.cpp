#include "compiler/driver/design.hpp"

#include "compiler/check/evaluate.hpp"
#include "compiler/driver/session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::driver {
namespace {

std::string trimmed(std::string_view text) {
    std::size_t begin = text.find_first_not_of(" \t"), end = text.find_last_not_of(" \t");
    return begin == std::string_view::npos ? "" : std::string(text.substr(begin, end - begin + 1));
}

/// Positions of a word or a comma outside brackets and quotes.
std::size_t outside(std::string_view text, std::string_view word, std::size_t from = 0) {
    int depth = 0;
    bool quoted = false;
    for (std::size_t i = 0; i < text.size(); ++i) {
        char c = text[i];
        if (c == '"') quoted = !quoted;
        if (quoted) continue;
        if (c == '(' || c == '[') ++depth;
        if (c == ')' || c == ']') --depth;
        if (depth == 0 && i >= from && text.substr(i).starts_with(word)) return i;
    }
    return std::string_view::npos;
}

/// A plain number out of an expression; nothing where it is none, or has a unit.
std::optional<double> number_of(const std::string& expression) {
    Options options;
    Session session;
    session.open(Given{"design", "let steps_of_the_range = (" + expression + ")\n"}, options);
    if (session.out.any_error() || session.model.lets.empty()) return std::nullopt;
    for (const auto& [name, expr] : session.model.lets) {
        if (session.model.names[name] != "steps_of_the_range") continue;
        check::Value value = check::evaluate(session.model, expr, check::Frame{}, session.out);
        bool plain = !value.poison() && value.list.empty() && value.type.dimension == Dimension{} &&
                     value.number.lo == value.number.lo;
        if (!plain) return std::nullopt;
        // A great number of steps carries the rounding of its ends with it.
        const double allowed = 1e-6 * std::max(1.0, std::abs(value.number.middle()));
        if (value.number.hi - value.number.lo > allowed) return std::nullopt;
        return value.number.middle();
    }
    return std::nullopt;
}

} // namespace

std::optional<Factor> factor_of(const std::string& text, std::size_t most, std::string& why, bool& too_many) {
    auto wrong = [&](std::string message) {
        why = fmt::format("--over '{}': {}", text, message);
        return std::nullopt;
    };
    const char* form = "NAME=LO to HI by STEP or NAME=[A, B, …] is expected";
    std::size_t equal = text.find('=');
    if (equal == std::string::npos) return wrong(form);
    Factor factor;
    factor.parameter = trimmed(text.substr(0, equal));
    std::string values = trimmed(text.substr(equal + 1));
    if (factor.parameter.empty() || values.empty()) return wrong(form);
    if (values.front() == '[') {
        if (values.back() != ']') return wrong("the list does not close");
        std::string_view rest = std::string_view(values).substr(1, values.size() - 2);
        while (true) {
            std::size_t comma = outside(rest, ",");
            factor.values.push_back(trimmed(rest.substr(0, comma)));
            if (factor.values.back().empty()) return wrong("a value of the list is empty");
            if (comma == std::string_view::npos) break;
            rest.remove_prefix(comma + 1);
        }
        for (std::size_t i = 0; i < factor.values.size(); ++i)
            for (std::size_t j = 0; j < i; ++j)
                if (factor.values[i] == factor.values[j])
                    return wrong(fmt::format("{} stands twice in the list", factor.values[i]));
        return factor;
    }
    std::size_t to = outside(values, " to "), by = outside(values, " by ", to == std::string::npos ? 0 : to);
    if (to == std::string::npos || by == std::string::npos) return wrong(form);
    std::string lo = trimmed(values.substr(0, to)), hi = trimmed(values.substr(to + 4, by - to - 4)),
                step = trimmed(values.substr(by + 4));
    std::optional<double> steps = number_of(fmt::format("(({}) - ({})) / ({})", hi, lo, step));
    if (!steps && number_of(fmt::format("({}) / (({}) - ({}))", step, hi, lo)) == 0.0)
        return wrong(fmt::format("the step `{}` is zero", step));
    if (!steps)
        return wrong(
            fmt::format("`{}`, `{}` and `{}` make no range: the ends are of one kind, the step is their "
                        "difference, as 900 degC to 980 degC by 20 K",
                        lo, hi, step));
    if (!(*steps >= 0) || !std::isfinite(*steps))
        return wrong("the step does not lead from the first value to the last");
    if (*steps > static_cast<double>(most)) {
        too_many = true;
        return wrong(fmt::format("the step `{}` is too fine: about {:.0f} values", step, *steps + 1));
    }
    // Decimal steps leave a few units of the last place behind.
    auto count = static_cast<std::size_t>(std::floor(*steps + 1e-9));
    bool meets = std::abs(*steps - static_cast<double>(count)) < 1e-9;
    for (std::size_t i = 0; i <= count; ++i)
        factor.values.push_back(i == 0                ? lo
                                : i == count && meets ? hi
                                : i == 1              ? fmt::format("{} + {}", lo, step)
                                                      : fmt::format("{} + {} * ({})", lo, i, step));
    return factor;
}

std::size_t points_of(const std::vector<Factor>& factors, std::size_t most) {
    std::size_t points = 1;
    for (const Factor& factor : factors) {
        points *= factor.values.size();
        if (points > most) return most + 1;
    }
    return points;
}

std::vector<std::string> point_at(const std::vector<Factor>& factors, std::size_t point) {
    std::vector<std::string> values(factors.size());
    for (std::size_t f = factors.size(); f-- > 0;) {
        values[f] = factors[f].values[point % factors[f].values.size()];
        point /= factors[f].values.size();
    }
    return values;
}

} // namespace athanor::driver
