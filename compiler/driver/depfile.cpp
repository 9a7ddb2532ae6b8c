#include "compiler/driver/depfile.hpp"

namespace athanor::driver {
namespace {

/// For Make a backslash escapes a blank, `#` and `:`; anywhere else it stands for itself, so those in front of
/// one of the three double, and no others. ninja reads the same, except that it keeps doubled backslashes in
/// front of `#` and `:` (1.11): no form of such a path is right for both.
std::string escaped(const std::string& path) {
    std::string out;
    std::size_t backslashes = 0;
    for (const char c : path) {
        if (c == ' ' || c == '#' || c == ':') out.append(backslashes + 1, '\\');
        if (c == '$') out += '$';
        backslashes = c == '\\' ? backslashes + 1 : 0;
        out += c;
    }
    return out;
}

} // namespace

std::string dependency_rule(const std::vector<std::string>& outputs, const std::vector<std::string>& sources,
                            std::string& why) {
    std::string text;
    auto add = [&](const std::string& path) {
        if (path.find_first_of("\n\r\t") != std::string::npos) why = path;
        text += escaped(path);
    };
    for (const std::string& path : outputs) {
        if (!text.empty()) text += " ";
        add(path);
    }
    text += ":";
    for (const std::string& path : sources) {
        text += " \\\n  ";
        add(path);
    }
    text += "\n";
    return why.empty() ? text : std::string();
}

} // namespace athanor::driver
