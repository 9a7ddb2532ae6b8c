#pragma once
#include "compiler/source/span.hpp"

#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace athanor {

enum class Severity : std::uint8_t { error, warning };

/// Groups of the standard policy, see `codes.def`.
enum class Group : std::uint8_t {
    flammable_gas,
    any_fault,
    gas_and_pressure,
    vacuum,
    heat,
    requirement,
    controller,
    text
};

enum class Code : std::uint8_t {
#define CODE(name, group, severity, meaning) name,
#include "compiler/source/codes.def"
#undef CODE
};

std::string_view name(Code code);
std::string_view meaning(Code code);
Group group(Code code);
std::string_view name(Group group);
std::string_view name(Severity severity);
/// Every code in the order of `codes.def`.
const std::vector<Code>& all_codes();
std::optional<Code> code_named(std::string_view name);

/// A second place that belongs to the message ("first declared here").
struct Label {
    Span span;
    std::string text;
};

/// A concrete repair: replace the text of `span` by `text`.
struct Edit {
    Span span;
    std::string text;
};

/// One finding, as data; renderers turn it into text, JSON or an editor's squiggle.
/// Order for the reader: where (span), what (message), why (causes), what to do (remedies).
/// Wording: lower case, no full stop, real numbers with units, the smallest span that is wrong.
struct Diagnostic {
    Severity severity = Severity::error;
    Code code = Code::syntax;
    /// The name printed in brackets; differs from `code` only for a rule of a site policy.
    std::string rule;
    Span span;
    std::string message;
    /// Printed behind the carets.
    std::string label;
    std::vector<Label> related;
    std::vector<std::string> causes;
    std::vector<std::string> remedies;
    std::optional<Edit> edit;

    Diagnostic& with_label(std::string text) {
        label = std::move(text);
        return *this;
    }
    Diagnostic& also(Span span_, std::string text) {
        related.push_back({span_, std::move(text)});
        return *this;
    }
    Diagnostic& cause(std::string text) {
        for (const std::string& told : causes)
            if (told.starts_with(text)) return *this; // in fewer words
        causes.push_back(std::move(text));
        return *this;
    }
    Diagnostic& remedy(std::string text) {
        remedies.push_back(std::move(text));
        return *this;
    }
    Diagnostic& mend(Span span_, std::string text) {
        edit = Edit{span_, std::move(text)};
        return *this;
    }
};

/// Collects the findings of one compilation. A stage reports and goes on with a poison value,
/// so that later stages stay silent about what was already said.
class Diagnostics {
public:
    /// The returned reference stays valid; use it to add causes and remedies.
    Diagnostic& error(Code code, Span span, std::string message);
    Diagnostic& warning(Code code, Span span, std::string message);
    Diagnostic& add(Diagnostic diagnostic);

    std::size_t errors() const { return errors_; }
    bool any_error() const { return errors_ != 0; }
    bool empty() const { return all_.empty(); }
    const std::deque<Diagnostic>& all() const { return all_; }

    /// In source order, repeated ones once, at most `cap`
    /// in all; `hidden` receives how many were left out.
    std::vector<const Diagnostic*> sorted(std::size_t cap, std::size_t& hidden) const;
    bool has(Code code) const;
    /// A warning of the code stands for no error of it.
    bool has_error(Code code) const;

private:
    std::deque<Diagnostic> all_;
    std::size_t errors_ = 0;
};

} // namespace athanor
