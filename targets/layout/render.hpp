#pragma once
#include "targets/layout/layout.hpp"

#include <optional>
#include <string>
#include <vector>

namespace athanor::targets::layout {

/// A field that a column cannot hold.
struct Misfit {
    athanor::Span span;
    std::string message;
};

/// Row by row, a text for each item of the layout.
struct Rendered {
    std::vector<std::vector<std::string>> rows;
    std::vector<Misfit> misfits;
};
Rendered render(const Layout& layout, const program::Program& program, const Context& context);

/// The rows as text, comments and header included.
std::string print(const Layout& layout, const program::Program& program, const Context& context,
                  Rendered& rendered);

/// Which zone, output or channel a name means; nothing where this program has none of that name.
std::optional<std::size_t> index_of(sheet::Field field, const std::string& name,
                                    const program::Program& program);

/// The word of the layout for a kind, and back.
std::string kind_text(const Layout& layout, const std::string& word);
std::string kind_word(const Layout& layout, const std::string& text);

/// Width of a text in characters, not bytes.
std::size_t width(std::string_view text);

} // namespace athanor::targets::layout
