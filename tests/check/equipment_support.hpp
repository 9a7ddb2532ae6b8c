#pragma once
#include "compiler/check/read_equipment.hpp"
#include "compiler/source/render.hpp"
#include "grammar/parse.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

/// Reads texts with the standard library beside them, without the loader of imports.
struct Equipment {
    athanor::Files files;
    athanor::Diagnostics out;
    std::vector<athanor::check::Unit> units;
    athanor::check::Model model;

    /// Each text sees the library and itself.
    explicit Equipment(const std::vector<std::string>& texts, bool see_each_other = false) {
        const auto standard = std::filesystem::path(ATHANOR_ROOT) / "recipes" / "standard";
        std::vector<std::filesystem::path> paths;
        for (const auto& entry : std::filesystem::directory_iterator(standard))
            for (const char* name :
                 {"schema.ath", "gases.ath", "substances.ath", "materials.ath", "thermocouples.ath"})
                if (entry.path().filename() == name) paths.push_back(entry.path());
        std::sort(paths.begin(), paths.end());
        for (const auto& path : paths) add(path.filename().string(), read(path), true);
        const auto library = units.size();
        for (std::size_t i = 0; i < texts.size(); ++i)
            add(texts.size() == 1 ? "t.ath" : "t" + std::to_string(i + 1) + ".ath", texts[i], false);
        for (std::size_t u = 0; u < units.size(); ++u)
            for (std::size_t v = 0; v < units.size(); ++v)
                if (v < library || u == v || (see_each_other && u >= library))
                    units[u].visible.push_back(static_cast<athanor::check::Index>(v));
        athanor::check::read_equipment(units, files, model, out);
    }
    explicit Equipment(const std::string& text) : Equipment(std::vector<std::string>{text}) {}

    static std::string read(const std::filesystem::path& path) {
        std::ifstream in(path, std::ios::binary);
        std::stringstream text;
        text << in.rdbuf();
        return text.str();
    }

    void add(const std::string& path, const std::string& text, bool standard) {
        athanor::check::Unit unit;
        unit.file = files.add(path, text, standard);
        unit.tree = athanor::parse(unit.file, files, out);
        unit.standard = standard;
        units.push_back(std::move(unit));
    }

    /// Every finding in short form, one a line.
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

    template<class List>
    static const auto& named(const List& list, std::string_view name) {
        for (const auto& entry : list)
            if (entry.name == name) return entry;
        FAIL("nothing is called " << std::string(name));
        return list.front();
    }
    const athanor::check::Gas& gas(std::string_view name) const { return named(model.gases, name); }
    const athanor::check::Material& material(std::string_view name) const {
        return named(model.materials, name);
    }
    const athanor::check::Thermocouple& thermocouple(std::string_view name) const {
        return named(model.thermocouples, name);
    }
    const athanor::check::Rig& rig(std::string_view name) const { return named(model.rigs, name); }
    const athanor::program::Controller& controller(std::string_view name) const {
        return named(model.controllers, name);
    }
};
