#pragma once
#include "compiler/check/model.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "grammar/syntax.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace athanor::check {

/// How files are read; a test or an editor gives its own. nullopt: cannot be read.
using ReadFile = std::function<std::optional<std::string>(const std::string& path)>;

/// One parsed file with the files whose declarations it sees.
struct Unit {
    FileId file = 0;
    Tree tree;
    std::vector<Index> visible; // indices of units: itself, its imports, the standard library
    bool standard = false;
    bool named = false; // given by the caller, not reached by an import
    bool lacks = false; // an import of it failed, and was told: a name that is not found may be there
};

/// A compilation of more files is `too_large`.
inline constexpr std::size_t max_files = 20'000;

struct Source {
    std::string path;
    std::string text;
    bool standard = false;
    /// In place of `text`: one of the library in which nothing is wrong.
    const ParsedText* built_in = nullptr;
};

/// Parses the given texts and everything they import, each file once. Reports `import_not_found`,
/// `import_cycle`, `import_escapes`. `root`: no import may leave it; empty = found as the nearest ancestor of
/// the importing file with `.git` or `athanor.root`, else the file's own folder.
std::vector<Unit> load(std::vector<Source> named, std::vector<Source> standard, const std::string& root,
                       const ReadFile& read, Files& files, Diagnostics& out);

/// What the model holds of the library's materials and thermocouples: all, or their names, and the rest of
/// those that something names.
enum class Library : std::uint8_t { whole, named };

/// Names, types, parameters, equipment: from trees to the typed model. Never throws on bad input; whatever is
/// wrong is reported once and poisoned.
Model check(const std::vector<Unit>& units, const Files& files, Diagnostics& out,
            Library library = Library::whole);

} // namespace athanor::check
