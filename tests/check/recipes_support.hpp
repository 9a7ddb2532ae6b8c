#pragma once
#include "compiler/check/evaluate.hpp"
#include "compiler/check/load.hpp"
#include "compiler/source/render.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

/// Texts held in memory, loaded and checked with the real standard library beside them. The first is the file
/// named on the command line; the others are there to be imported.
struct Checked {
    using Texts = std::vector<std::pair<std::string, std::string>>;

    athanor::Files files;
    athanor::Diagnostics out;
    std::vector<athanor::check::Unit> units;
    athanor::check::Model model;
    unsigned reads = 0; // how often a file was asked for

    explicit Checked(const std::string& text) : Checked(Texts{{"t.ath", text}}) {}
    explicit Checked(const Texts& texts, const std::string& root = "") {
        std::map<std::string, std::string> by_path(texts.begin(), texts.end());
        const auto read_text = [&](const std::string& path) -> std::optional<std::string> {
            ++reads;
            auto found = by_path.find(path);
            if (found == by_path.end()) return std::nullopt;
            return found->second;
        };
        units = athanor::check::load({{texts[0].first, texts[0].second, false}}, standard(), root, read_text,
                                     files, out);
        model = athanor::check::check(units, files, out);
    }

    static std::string read(const std::filesystem::path& path) {
        std::ifstream in(path, std::ios::binary);
        std::stringstream text;
        text << in.rdbuf();
        return text.str();
    }

    static const std::vector<athanor::check::Source>& standard() {
        static const auto sources = [] {
            std::vector<athanor::check::Source> list;
            for (const auto& entry : std::filesystem::directory_iterator(std::filesystem::path(ATHANOR_ROOT) /
                                                                         "recipes" / "standard"))
                if (entry.path().extension() == ".ath")
                    list.push_back({"standard/" + entry.path().filename().string(), read(entry.path()), true});
            std::sort(list.begin(), list.end(), [](const auto& a, const auto& b) { return a.path < b.path; });
            return list;
        }();
        return sources;
    }

    /// Every finding in short form, one a line, errors of the standard library too.
    std::string findings() const {
        std::string text;
        std::size_t hidden = 0;
        for (const athanor::Diagnostic* d : out.sorted(1000, hidden))
            text += athanor::render_short(*d, files) + "\n";
        return text;
    }
    std::string remedies() const {
        std::string text;
        std::size_t hidden = 0;
        for (const athanor::Diagnostic* d : out.sorted(1000, hidden))
            for (const std::string& remedy : d->remedies) text += remedy + "\n";
        return text;
    }
    /// The text of the first file after the one edit that was offered.
    std::string mended() const {
        for (const athanor::Diagnostic& d : out.all()) {
            if (!d.edit) continue;
            std::string text(files[d.edit->span.file].text());
            return text.replace(d.edit->span.begin, d.edit->span.end - d.edit->span.begin, d.edit->text);
        }
        return "nothing was offered";
    }

    const athanor::check::Recipe& recipe() const { return model.recipes.at(0); }
    /// Statements of a block in order.
    std::vector<athanor::check::Statement> steps(athanor::check::StatementId begin) const {
        std::vector<athanor::check::Statement> list;
        for (; begin != 0; begin = model.statements[begin].next) list.push_back(model.statements[begin]);
        return list;
    }
    std::vector<athanor::check::Statement> steps() const { return steps(recipe().body); }
    athanor::check::Value value(athanor::check::ExprId id, const athanor::check::Frame& frame = {}) {
        return athanor::check::evaluate(model, id, frame, out);
    }
    double number(athanor::check::ExprId id) { return value(id).number.middle(); }
};

/// A recipe with these lines in its body.
inline std::string recipe_with(const std::string& body, const std::string& parameters = "") {
    return "recipe r" + (parameters.empty() ? "" : "(" + parameters + ")") + " {\n" + body + "\n}\n";
}

/// The findings of such a recipe.
inline std::string findings_of(const std::string& body, const std::string& parameters = "") {
    return Checked(recipe_with(body, parameters)).findings();
}
