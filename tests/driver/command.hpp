#pragma once
#include <string>
#include <vector>

/// Runs the real program as a person would, in a folder, and returns what came out.
struct Result {
    int status = -1; // exit status; 128 + signal when it was killed
    std::string out, err;
};
Result athanor(const std::vector<std::string>& arguments, const std::string& folder,
               const std::string& input = "");
Result shell(const std::string& command, const std::string& folder);

/// A fresh folder below the system's temporary one, removed at the end.
class Scratch {
public:
    Scratch();
    ~Scratch();
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    const std::string& path() const { return path_; }
    void write(const std::string& name, const std::string& text) const;
    std::string read(const std::string& name) const;
    bool has(const std::string& name) const;
    /// Names of everything in it, sorted.
    std::vector<std::string> names() const;

private:
    std::string path_;
};

/// One with the rigs and controllers of `recipes/` in it.
struct Workshop : Scratch {
    Workshop();
};

std::string read_text(const std::string& path);

/// Compares with tests/goldens/NAME; with ATHANOR_REFRESH=1 in the environment it writes the file instead.
/// Returns an empty text when they agree, else the first line that differs.
std::string golden(const std::string& name, const std::string& text);

inline const std::string project = ATHANOR_ROOT;
