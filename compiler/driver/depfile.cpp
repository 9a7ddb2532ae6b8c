#include "compiler/driver/depfile.hpp"

namespace athanor::driver {
namespace {

/// Make: a backslash counts only in front of a blank, `#`, `:` or another such run; there it doubles.
std::string escaped(const std::string& path) {
    std::string out;
    std::size_t backslashes = 0;
    for (char c : path) {
        if (c == '\\') {
            ++backslashes;
            out += c;
            continue;
        }
        if (c == ' ' || c == '#') {
            out.append(backslashes, '\\');
            out += '\\';
        } else if (c == ':') {
            out += '\\';
        } else if (c == '$') {
            out += '$';
        }
        backslashes = 0;
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
