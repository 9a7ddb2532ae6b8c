#include "tests/driver/page.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <sstream>

namespace {

Verdict verdict(const Result& result) {
    Verdict v{result.status, {}, {}, result.err};
    std::istringstream lines(result.err);
    for (std::string line; std::getline(lines, line);) {
        std::size_t from = line.rfind('['), to = line.rfind(']');
        if (from == std::string::npos || to == std::string::npos || to < from) continue;
        std::string code = line.substr(from + 1, to - from - 1);
        if (line.find(": error: ") != std::string::npos)
            v.errors.insert(code);
        else if (line.find(": warning: ") != std::string::npos)
            v.warnings.insert(code);
    }
    return v;
}

} // namespace

const std::vector<Code>& all_codes() {
    static const std::vector<Code> codes{
#define CODE(name, group, severity, meaning) {#name, #group, #severity},
#include "compiler/source/codes.def"
#undef CODE
    };
    return codes;
}

std::vector<std::string> blocks(const std::string& text, const std::string& language) {
    std::vector<std::string> list;
    std::istringstream lines(text);
    bool inside = false, wanted = false;
    for (std::string line; std::getline(lines, line);) {
        if (line.starts_with("```")) {
            inside = !inside;
            wanted = inside && line == "```" + language;
            if (wanted) list.emplace_back();
        } else if (wanted) {
            list.back() += line + '\n';
        }
    }
    return list;
}

std::optional<std::string> line_behind(const std::string& text, const std::string& mark) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);)
        if (line.starts_with(mark)) return line.substr(mark.size());
    return std::nullopt;
}

Codes listed(std::string text) {
    std::replace(text.begin(), text.end(), ',', ' ');
    std::istringstream words(text);
    Codes codes;
    for (std::string word; words >> word;) codes.insert(word);
    return codes;
}

Codes reported_as(const std::string& code, const std::string& example) {
    if (code != "policy_rule") return {code};
    std::optional<std::string> rule = line_behind(example, "    rule ");
    REQUIRE(rule);
    return {rule->substr(0, rule->find(' '))};
}

Verdict Bench::run(const std::string& command, const std::string& name, const std::string& text) const {
    write(name, text);
    return verdict(athanor({command, name, "--message-format", "short"}, path()));
}
