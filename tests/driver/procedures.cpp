// The published procedures: a verdict for each, the figures that its source leaves out, and what becomes of it
// as the source has it, without the steps and figures that were added here. The table of
// tests/procedures/README.md is what comes out; ATHANOR_REFRESH=1 writes it.
#include "tests/driver/page.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace fs = std::filesystem;

namespace {

const std::string folder = project + "/tests/procedures", unsaid = "# not in the source", added = "# added",
                  printed = "# source: ";

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> list;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) list.push_back(line);
    return list;
}

std::string trimmed(std::string text) {
    const std::size_t first = text.find_first_not_of(" ,"), last = text.find_last_not_of(" ,");
    return first == std::string::npos ? "" : text.substr(first, last - first + 1);
}

std::string between(const std::string& text, const std::string& from, const std::string& to) {
    const std::size_t at = text.find(from);
    if (at == std::string::npos) return {};
    const std::size_t begin = at + from.size(), end = text.find(to, begin);
    return text.substr(begin, end == std::string::npos ? end : end - begin);
}

/// "air left 20 ppm, heating 3 K/min": what stands before each mark.
std::string left_out(const std::vector<std::string>& lines) {
    std::string text;
    const auto add = [&](const std::string& one) { text += (text.empty() ? "" : ", ") + one; };
    for (const std::string& line : lines) {
        const std::size_t mark = line.find(unsaid);
        if (mark == std::string::npos) continue;
        const std::string given = trimmed(line.substr(0, mark));
        if (given.starts_with("defaults ")) {
            std::istringstream items(between(given, "{", "}"));
            for (std::string item; std::getline(items, item, ';');) add(trimmed(item));
        } else if (const std::size_t colon = given.find(" : "); colon != std::string::npos) {
            std::string name = given.substr(0, colon);
            std::replace(name.begin(), name.end(), '_', ' ');
            add(name + " " + trimmed(between(given, " = ", "\n")));
        } else {
            add("`" + given + "`");
        }
    }
    return text.empty() ? "none" : text;
}

/// As its source has it; the same text where nothing was added.
std::string as_printed(const std::vector<std::string>& lines) {
    std::string text;
    for (const std::string& line : lines) {
        if (line.ends_with(added)) continue;
        const std::size_t mark = line.find(printed);
        if (mark == std::string::npos)
            text += line + "\n";
        else
            text += line.substr(0, line.find_first_not_of(' ')) + line.substr(mark + printed.size()) + "\n";
    }
    return text;
}

std::string joined(const Codes& codes) {
    std::string text;
    for (const std::string& code : codes) text += (text.empty() ? "" : ", ") + ("`" + code + "`");
    return text;
}

struct Procedure {
    std::string name, title, covers, rig, source;
    std::string kind, verdict, left_out, printed;
};

/// What it is about, from the cautions that come with it.
std::string kind_of(const nlohmann::json& assured) {
    std::string kinds;
    for (const nlohmann::json& caution : assured["cautions"]) {
        const std::string text = caution;
        for (const auto& [begin, word] :
             {std::pair{"Flammable", "hydrogen"}, {"Vacuum", "vacuum"}, {"Gas that displaces", "inert"}})
            if (text.starts_with(begin)) kinds += (kinds.empty() ? "" : ", ") + std::string(word);
    }
    return kinds.empty() ? "air" : kinds;
}

/// The folder's rigs and controllers, copied: repairs are written there.
struct Copy : Scratch {
    Copy() { fs::copy(folder, path(), fs::copy_options::recursive | fs::copy_options::overwrite_existing); }
};

Procedure judged(const Copy& copy, const std::string& name) {
    const std::string text = read_text(folder + "/" + name + ".ath");
    const std::vector<std::string> lines = lines_of(text);
    Procedure p;
    p.name = name;
    p.source = lines.at(0);
    p.title = between(between(text, "\nrecipe ", "\n"), "\"", "\"");
    p.covers = between(text, "\ntest \"", "\"");
    const std::string header = between(text, "\nrecipe ", "{\n");
    p.rig = between(header.substr(std::min(header.size(), header.rfind(" on "))), " on ", " for ");
    p.left_out = left_out(lines);
    const Result result = athanor({"assure", name + ".ath", "--message-format", "json"}, copy.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    const nlohmann::json assured = nlohmann::json::parse(lines_of(result.out).back());
    CHECK(assured["proven"] == true);
    p.kind = kind_of(assured);
    const auto open =
        std::count_if(assured["assurance"].begin(), assured["assurance"].end(), [](const auto& row) {
            return row["rule"] == "fault" && row["verdict"] == "needs_an_interlock";
        });
    p.verdict = open == 0 ? "proven" : fmt::format("proven; {} faults need an interlock", open);

    const std::string before = as_printed(lines), file = name + "_printed.ath";
    p.printed = "the same";
    if (before == text) return p;
    copy.write(file, before);
    const auto codes = [&] {
        Codes list;
        for (const std::string& line :
             lines_of(athanor({"check", file, "--message-format", "short"}, copy.path()).err))
            if (line.find(": error: ") != std::string::npos)
                list.insert(between(line, line.substr(0, line.rfind('[') + 1), "]"));
        return list;
    };
    const Codes refused = codes();
    if (refused.empty()) {
        p.printed = "proven";
        return p;
    }
    const Result fixed = athanor({"check", file, "--fix"}, copy.path());
    const std::string after = copy.read(file);
    const Codes left = codes();
    CHECK((fixed.status == 0) == left.empty());
    // A repair asks no less: what was demanded still stands.
    for (const std::string& line : lines_of(before))
        if (line.find("require ") != std::string::npos) CHECK(after.find(line) != std::string::npos);
    p.printed = "refused: " + joined(refused) +
                (left.empty() ? "; `--fix` mends it" : "; `--fix` leaves " + joined(left));
    return p;
}

} // namespace

TEST_CASE("each published procedure has its verdict, and the table says so") {
    const Copy copy;
    std::vector<std::string> names;
    for (const auto& entry : fs::directory_iterator(folder))
        if (entry.path().extension() == ".ath") names.push_back(entry.path().stem().string());
    std::sort(names.begin(), names.end());
    REQUIRE(names.size() >= 65);
    const std::string heading =
        "| file | what it covers | about | rig | verdict | figures that the source leaves out, as taken | as "
        "the source has it |\n|---|---|---|---|---|---|---|\n";
    std::string table = heading;
    std::size_t refused = 0, mended = 0;
    for (const std::string& name : names) {
        CAPTURE(name);
        const Procedure p = judged(copy, name);
        CHECK_FALSE(p.title.empty());
        CHECK(p.source.starts_with("# "));
        refused += p.printed.starts_with("refused");
        mended += p.printed.find("mends it") != std::string::npos;
        table += fmt::format("| `{}` | {}: {} | {} | `{}` | {} | {} | {} |\n", p.name, p.title, p.covers,
                             p.kind, p.rig, p.verdict, p.left_out, p.printed);
        // Hydrogen that burns, as papers print it, is never proven: none says how the air leaves.
        if (p.kind.find("hydrogen") != std::string::npos) CHECK(p.printed.starts_with("refused"));
    }
    table += fmt::format("\n{} procedures, all proven with the figures above. {} of them are refused as their "
                         "source has them; {} of "
                         "these `check --fix` mends by itself.\n",
                         names.size(), refused, mended);
    const std::string path = folder + "/README.md", now = read_text(path);
    const std::string begin = "<!-- written by tests/driver/procedures.cpp -->\n", end = "<!-- end -->\n";
    const std::size_t from = now.find(begin), to = now.find(end);
    REQUIRE(from != std::string::npos);
    REQUIRE(to != std::string::npos);
    if (std::getenv("ATHANOR_REFRESH") != nullptr) {
        std::ofstream(path, std::ios::binary) << now.substr(0, from + begin.size()) << table << now.substr(to);
        return;
    }
    CHECK(now.substr(from + begin.size(), to - from - begin.size()) == table);
}
