#pragma once
#include "tests/prove/support.hpp"

#include <doctest/doctest.h>

#include <string>

/// For the rules about equipment: a variant of the small rig, steps on it, and what is found.
namespace athanor::prove::test {

/// Steps on `rig special from small { PROPERTIES }`; the first step stands on line 3. `gases` and controllers
/// go into the first line.
inline std::unique_ptr<Case> on(const std::string& properties, const std::string& text,
                                const std::string& more = {}, const std::string& controller = {}) {
    return run("use \"rigs.ath\" ; rig special from small { " + properties + " } ; " + more +
               "\nrecipe r on special" + (controller.empty() ? "" : " for " + controller) + " {\n" + text +
               "}\n");
}

/// Findings of one rule and severity: "line line".
inline std::string found(const Case& c, Code code, Severity severity) {
    std::string text;
    for (const Diagnostic& d : c.out.all())
        if (d.code == code && d.severity == severity)
            text += (text.empty() ? "" : " ") + std::to_string(c.files.position(d.span).line);
    return text;
}

/// These errors and no others ("rule:line"), and a row that says the same.
inline void refused(const std::unique_ptr<Case>& c, const std::string& rule, const std::string& errors) {
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->errors() == errors, c->all());
    CHECK_FALSE(c->assurance.proven);
    CHECK(c->row(rule).verdict != plant::Verdict::proven);
    for (const Diagnostic& d : c->out.all())
        if (d.rule == rule) {
            CHECK(d.causes.size() + d.related.size() > 0);
            CHECK_FALSE(d.remedies.empty());
        }
}

/// No error, and the rule applied.
inline void passes(const std::unique_ptr<Case>& c, const std::string& rule) {
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->errors().empty(), c->all());
    const Row& row = c->row(rule);
    CHECK(row.applied);
    CHECK(row.verdict == plant::Verdict::proven);
    CHECK_FALSE(row.title.empty());
}

/// The number behind a word of a row's margin.
inline double number_behind(const std::string& text, const std::string& word) {
    const std::size_t at = text.find(word);
    REQUIRE(at != std::string::npos);
    return std::stod(text.substr(at + word.size()));
}

} // namespace athanor::prove::test
