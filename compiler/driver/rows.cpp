#include "compiler/driver/rows.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::driver {
namespace {

constexpr std::ptrdiff_t columns = 80; // of the narrowest usual terminal
constexpr std::ptrdiff_t indent = 27;

std::ptrdiff_t width(const std::string& text) {
    return std::count_if(text.begin(), text.end(),
                         [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
}

} // namespace

void print_wrapped(std::string line, const std::string& words) {
    for (std::size_t begin = 0; begin < words.size();) {
        const std::size_t end = std::min(words.find(' ', begin), words.size());
        const std::string word = words.substr(begin, end - begin);
        if (width(line) + 1 + width(word) > columns && width(line) > indent) {
            fmt::print("{}\n", line);
            line = std::string(indent - 1, ' ');
        }
        line += " " + word;
        begin = end + 1;
    }
    fmt::print("{}\n", line);
}

void print_row(std::string_view name, const std::string& value, const std::string& reference) {
    if (value.empty()) return;
    print_wrapped(fmt::format("    {:<22}", name), value + (reference.empty() ? "" : " (" + reference + ")"));
}

void print_row(std::string_view name, const check::Figure& figure, Kind kind) {
    print_row(name, shown(figure, kind), origin(figure));
}

std::string shown(const check::Figure& figure, Kind kind) {
    // What is declared is shown as declared: nobody declares more than six digits.
    return figure.given ? to_text(figure.value, kind, figure.defaulted ? 4 : 6) : std::string{};
}

std::string origin(const check::Figure& figure) {
    if (!figure.defaulted) return figure.reference;
    return figure.reference.empty() ? "assumed" : "assumed: " + figure.reference;
}

} // namespace athanor::driver
