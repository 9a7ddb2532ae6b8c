#pragma once
#include "tests/driver/command.hpp"

#include <optional>
#include <set>
#include <string>
#include <vector>

/// The pages of docs/diagnostics, their examples, and what the program says of them.
using Codes = std::set<std::string>;

struct Code {
    std::string name, group, severity;
};
/// Every code, as compiler/source/codes.def lists them.
const std::vector<Code>& all_codes();

inline const std::string pages = project + "/docs/diagnostics";

/// What stands between ```LANGUAGE and the closing fence, block by block.
std::vector<std::string> blocks(const std::string& text, const std::string& language);
/// The text of the line that begins with `mark`, or nothing.
std::optional<std::string> line_behind(const std::string& text, const std::string& mark);
/// Words, separated by blanks and commas.
Codes listed(std::string text);
/// A rule of a site policy is reported under its own name; its page stands for all of them.
Codes reported_as(const std::string& code, const std::string& example);

struct Verdict {
    int status = -1;
    Codes errors, warnings;
    std::string said;
};

/// A folder in which `use "rigs/…"` and `use "controllers/…"` mean the ones of recipes/.
struct Bench : Workshop {
    Verdict run(const std::string& command, const std::string& name, const std::string& text) const;
};
