#include "tests/driver/command.hpp"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <sys/wait.h>

namespace fs = std::filesystem;

namespace {

std::string in_quotes(const std::string& text) {
    std::string out = "'";
    for (char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
    return out + "'";
}

} // namespace

Workshop::Workshop() {
    for (const char* folder : {"rigs", "controllers"})
        fs::copy(project + "/recipes/" + folder, path() + "/" + folder, fs::copy_options::recursive);
}

std::string read_text(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    std::stringstream text;
    text << file.rdbuf();
    return text.str();
}

Result shell(const std::string& command, const std::string& folder) {
    Scratch scratch;
    std::string out = scratch.path() + "/out", err = scratch.path() + "/err";
    std::string line =
        "cd " + in_quotes(folder) + " && ( " + command + " ) >" + in_quotes(out) + " 2>" + in_quotes(err);
    int status = std::system(line.c_str());
    Result result;
    result.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    result.out = read_text(out);
    result.err = read_text(err);
    return result;
}

Result athanor(const std::vector<std::string>& arguments, const std::string& folder, const std::string& input) {
    Scratch scratch;
    scratch.write("input", input);
    std::string command = in_quotes(ATHANOR_PROGRAM);
    for (const std::string& a : arguments) command += " " + in_quotes(a);
    return shell(command + " <" + in_quotes(scratch.path() + "/input"), folder);
}

Scratch::Scratch() {
    std::string pattern = (fs::temp_directory_path() / "athanor-test-XXXXXX").string();
    path_ = ::mkdtemp(pattern.data());
}

Scratch::~Scratch() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
}

void Scratch::write(const std::string& name, const std::string& text) const {
    fs::create_directories((fs::path(path_) / name).parent_path());
    std::ofstream(fs::path(path_) / name, std::ios::binary) << text;
}

std::string Scratch::read(const std::string& name) const {
    return read_text(path_ + "/" + name);
}
bool Scratch::has(const std::string& name) const {
    return fs::exists(fs::path(path_) / name);
}

std::vector<std::string> Scratch::names() const {
    std::vector<std::string> list;
    for (const auto& entry : fs::directory_iterator(path_)) list.push_back(entry.path().filename().string());
    std::sort(list.begin(), list.end());
    return list;
}

std::string golden(const std::string& name, const std::string& text) {
    fs::path path = fs::path(project) / "tests/goldens" / name;
    if (const char* refresh = std::getenv("ATHANOR_REFRESH"); refresh && *refresh == '1') {
        fs::create_directories(path.parent_path());
        std::ofstream(path, std::ios::binary) << text;
        return {};
    }
    if (!fs::exists(path))
        return "there is no golden file " + path.string() + "; make it with ATHANOR_REFRESH=1";
    std::istringstream want(read_text(path.string())), have(text);
    std::string a, b;
    for (int line = 1;; ++line) {
        bool more_a = static_cast<bool>(std::getline(want, a)),
             more_b = static_cast<bool>(std::getline(have, b));
        if (!more_a && !more_b) return {};
        if (more_a != more_b || a != b)
            return name + ":" + std::to_string(line) + ":\n  want: " + (more_a ? a : "(end)") +
                   "\n  have: " + (more_b ? b : "(end)");
    }
}
