#include "compiler/check/import_path.hpp"
#include "grammar/words.hpp"

#include <filesystem>

namespace athanor::check {

namespace fs = std::filesystem;

std::string joined_path(std::string_view importer, std::string_view written) {
    return (fs::path(importer).parent_path() / fs::path(written)).lexically_normal().generic_string();
}

std::string canonical_path(std::string_view path) {
    std::error_code error;
    fs::path whole = fs::absolute(fs::path(path), error);
    if (error) return fs::path(path).lexically_normal().generic_string();
    fs::path real = fs::weakly_canonical(whole, error);
    // A loop of links has no target; its own place stands for it, and reading it will fail.
    return (error ? whole.lexically_normal() : real).generic_string();
}

std::string root_of(std::string_view file, std::string_view root) {
    if (!root.empty()) return canonical_path(root);
    const fs::path folder = fs::path(canonical_path(file)).parent_path();
    std::error_code error;
    for (fs::path at = folder; !at.empty(); at = at.parent_path()) {
        if (fs::exists(at / ".git", error) || fs::exists(at / "athanor.root", error))
            return at.generic_string();
        if (at == at.root_path()) break;
    }
    return folder.generic_string();
}

bool inside(std::string_view path, std::string_view root) {
    while (root.ends_with('/')) root.remove_suffix(1);
    return path.starts_with(root) && (path.size() == root.size() || path[root.size()] == '/');
}

bool absolute(std::string_view path) {
    return fs::path(path).is_absolute();
}

std::string nearest_file(std::string_view path) {
    const fs::path wanted(path);
    std::error_code error;
    std::string best;
    unsigned least = 3;
    fs::directory_iterator entries(wanted.has_parent_path() ? wanted.parent_path() : fs::path("."), error), end;
    constexpr unsigned most = 10'000; // a folder may be a dump of data
    for (unsigned seen = 0; !error && entries != end && seen < most; entries.increment(error), ++seen) {
        const std::string name = entries->path().filename().string();
        std::error_code ignored;
        if (!name.ends_with(".ath") || !entries->is_regular_file(ignored)) continue;
        const unsigned distance = grammar::edit_distance(name, wanted.filename().string());
        // Equal distances: the first by name, so that the message does not depend on the file system.
        if (distance < least || (distance == least && distance < 3 && name < best)) {
            least = distance;
            best = name;
        }
    }
    return best;
}

} // namespace athanor::check
