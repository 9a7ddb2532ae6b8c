// Codes and the collection of findings.
#include "compiler/source/diagnostic.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cctype>
#include <set>
#include <string>

using namespace athanor;

namespace {

std::vector<std::string> messages(const Diagnostics& all, std::size_t cap, std::size_t& hidden) {
    std::vector<std::string> list;
    for (const Diagnostic* d : all.sorted(cap, hidden)) list.push_back(d->message);
    return list;
}

using List = std::vector<std::string>;

} // namespace

TEST_CASE("names of codes are unique, and words of the language") {
    std::set<std::string_view> seen;
    for (Code code : all_codes()) {
        CAPTURE(std::string(name(code)));
        CHECK(seen.insert(name(code)).second);
        CHECK_FALSE(name(code).empty());
        CHECK(std::all_of(name(code).begin(), name(code).end(),
                          [](unsigned char c) { return std::islower(c) != 0 || c == '_'; }));
    }
    CHECK(seen.size() == all_codes().size());
    CHECK(all_codes().size() > 40);
}

TEST_CASE("a code is found by its name") {
    for (Code code : all_codes()) {
        auto found = code_named(name(code));
        REQUIRE(found.has_value());
        CHECK(*found == code);
    }
    CHECK(code_named("burner_off") == Code::burner_off);
    CHECK_FALSE(code_named("").has_value());
    CHECK_FALSE(code_named("burner_of").has_value());
    CHECK_FALSE(code_named("burner_offx").has_value());
    CHECK_FALSE(code_named("Burner_off").has_value());
}

TEST_CASE("a meaning is one line in the wording of messages") {
    for (Code code : all_codes()) {
        std::string_view text = meaning(code);
        CAPTURE(std::string(name(code)));
        REQUIRE_FALSE(text.empty());
        CHECK(std::isupper(static_cast<unsigned char>(text.front())) == 0);
        CHECK(text.back() != '.');
        CHECK(text.find('\n') == std::string_view::npos);
    }
}

TEST_CASE("groups and severities have names") {
    CHECK(group(Code::burner_off) == Group::flammable_gas);
    CHECK(group(Code::supply_pressure) == Group::gas_and_pressure);
    CHECK(group(Code::plugs_in_vacuum) == Group::vacuum);
    CHECK(group(Code::tube_shock) == Group::heat);
    CHECK(group(Code::requirement_violated) == Group::requirement);
    CHECK(group(Code::too_many_segments) == Group::controller);
    CHECK(group(Code::syntax) == Group::text);
    CHECK(name(Group::flammable_gas) == "flammable gas");
    CHECK(name(Group::any_fault) == "any fault");
    CHECK(name(Group::gas_and_pressure) == "gas and pressure");
    CHECK(name(Group::vacuum) == "vacuum");
    CHECK(name(Group::heat) == "heat");
    CHECK(name(Group::requirement) == "requirement");
    CHECK(name(Group::controller) == "controller");
    CHECK(name(Group::text) == "text");
    CHECK(name(Severity::error) == "error");
    CHECK(name(Severity::warning) == "warning");
}

TEST_CASE("only errors count as errors") {
    Diagnostics all;
    CHECK(all.empty());
    all.warning(Code::never_used, {}, "a");
    CHECK_FALSE(all.empty());
    CHECK_FALSE(all.any_error());
    all.error(Code::syntax, {}, "b");
    CHECK(all.any_error());
    CHECK(all.errors() == 1);
    CHECK(all.has(Code::syntax));
    CHECK(all.has(Code::never_used));
    CHECK(all.has_error(Code::syntax));
    CHECK_FALSE(all.has_error(Code::never_used));
    CHECK_FALSE(all.has(Code::recursion));
}

TEST_CASE("a finding carries its code's name unless a site's rule gives another") {
    Diagnostics all;
    CHECK(all.error(Code::syntax, {}, "a").rule == "syntax");
    Diagnostic site;
    site.code = Code::policy_rule;
    site.rule = "dry_before_hot";
    CHECK(all.add(site).rule == "dry_before_hot");
}

TEST_CASE("the returned finding may be completed later") {
    Diagnostics all;
    Diagnostic& first = all.error(Code::syntax, {}, "first");
    for (int i = 0; i < 1000; ++i) all.warning(Code::never_used, {}, "more");
    first.cause("why").remedy("what").with_label("here").also({0, 1, 2}, "there").mend({0, 3, 4}, "x");
    const Diagnostic& kept = all.all().front();
    CHECK(kept.message == "first");
    CHECK(kept.causes == List{"why"});
    CHECK(kept.remedies == List{"what"});
    CHECK(kept.label == "here");
    REQUIRE(kept.related.size() == 1);
    CHECK(kept.related[0].span == Span{0, 1, 2});
    REQUIRE(kept.edit.has_value());
    CHECK(kept.edit->text == "x");
}

TEST_CASE("findings come in the order of the text, equals in the order of reporting") {
    Diagnostics all;
    all.error(Code::syntax, {1, 0, 1}, "other file");
    all.error(Code::syntax, {0, 9, 12}, "late");
    all.error(Code::unknown_name, {0, 3, 5}, "early");
    all.warning(Code::never_used, {0, 3, 5}, "early too");
    all.error(Code::syntax, {0, 3, 4}, "early and shorter");
    std::size_t hidden = 7;
    CHECK(messages(all, 100, hidden) == List{"early and shorter", "early", "early too", "late", "other file"});
    CHECK(hidden == 0);
}

TEST_CASE("the same finding is shown once, also when another of its place stands between") {
    Diagnostics all;
    all.error(Code::syntax, {0, 3, 5}, "a");
    all.error(Code::syntax, {0, 3, 5}, "b");
    all.error(Code::syntax, {0, 3, 5}, "a");
    std::size_t hidden = 0;
    CHECK(messages(all, 100, hidden) == List{"a", "b"});
    // The same words elsewhere, or by another rule, are another finding.
    all.error(Code::syntax, {0, 4, 5}, "a");
    all.error(Code::unknown_name, {0, 4, 5}, "a");
    CHECK(messages(all, 100, hidden) == List{"a", "b", "a", "a"});
}

TEST_CASE("what goes beyond the cap is counted") {
    Diagnostics all;
    for (std::uint32_t i = 0; i < 10; ++i) all.error(Code::syntax, {0, 10 - i, 11}, std::to_string(10 - i));
    all.error(Code::syntax, {0, 10, 11}, "10"); // repeated: not hidden but gone
    std::size_t hidden = 0;
    CHECK(messages(all, 3, hidden) == List{"1", "2", "3"});
    CHECK(hidden == 7);
    CHECK(messages(all, 10, hidden).size() == 10);
    CHECK(hidden == 0);
    CHECK(messages(all, 0, hidden).empty());
    CHECK(hidden == 10);
}
