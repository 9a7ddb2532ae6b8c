#include "compiler/driver/copied.hpp"

#include "targets/json/locate.hpp"
#include "targets/provenance.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <set>
#include <string>

#include <fmt/format.h>

namespace athanor::driver {
namespace {

using Json = nlohmann::json;
using targets::json::Step;

/// Null where there is none: what a table lacks is told by its reader.
const Json& member(const Json& of, const char* key) {
    static const Json nothing;
    const auto found = of.is_object() ? of.find(key) : of.end();
    return found == of.end() ? nothing : *found;
}

std::string_view line_at(std::string_view text, std::size_t at) {
    at = std::min(at, text.size());
    const std::size_t before = at == 0 ? std::string_view::npos : text.rfind('\n', at - 1);
    const std::size_t begin = before == std::string_view::npos ? 0 : before + 1;
    return text.substr(begin, text.find('\n', begin) - begin);
}

/// The lines in which two texts begin to differ; other values as JSON shows them.
std::pair<std::string, std::string> shown(const Json& a, const Json& b) {
    if (!a.is_string() || !b.is_string()) return {a.dump(), b.dump()};
    const auto &have = a.get_ref<const std::string&>(), &want = b.get_ref<const std::string&>();
    const auto parts = std::mismatch(have.begin(), have.end(), want.begin(), want.end());
    const auto at = static_cast<std::size_t>(parts.first - have.begin());
    const auto quoted = [at](const std::string& text) {
        const std::string_view line = line_at(text, at);
        if (!line.empty()) return fmt::format("`{}`", line);
        return std::string(text.empty() ? "empty" : at >= text.size() ? "over there" : "an empty line");
    };
    return {quoted(have), quoted(want)};
}

/// "at bench.ath:12" as "at bench.ath".
std::string without_lines(std::string text) {
    constexpr std::string_view ending = ".ath:";
    for (std::size_t at = text.find(ending); at != std::string::npos; at = text.find(ending, at + 1)) {
        const std::size_t begin = at + ending.size() - 1;
        text.erase(begin, text.find_first_not_of("0123456789", begin + 1) - begin);
    }
    return text;
}

class Copies {
public:
    /// `lines`: of what stands in a file its line counts, too.
    Copies(std::string_view bytes, bool lines) : bytes_(bytes), lines_(lines) {}

    void same(const Json& a, const Json& b, const std::vector<Step>& path, const std::string& name) {
        if (a.is_object() && b.is_object()) {
            members(a, b, path, name);
        } else if (a.is_array() && b.is_array()) {
            const std::size_t both = std::min(a.size(), b.size());
            for (std::size_t i = 0; i < both; ++i)
                same(a[i], b[i], with(path, {"", i}), fmt::format("{}[{}]", name, i));
            if (a.size() != b.size())
                say(path, fmt::format("`{}` has {} entries, the recipe's has {}", name, a.size(), b.size()));
        } else if (!equal(a, b)) {
            const auto [have, want] = shown(a, b);
            say(path, fmt::format("`{}` is {}, the recipe's is {}", name, have, want));
        }
    }

    /// Of each of two equally long lists the members that no reader compares.
    void beside(const Json& a, const Json& b, const std::vector<Step>& path, const std::string& name,
                std::initializer_list<const char*> keys) {
        if (!a.is_array() || !b.is_array()) return;
        for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i)
            for (const char* key : keys)
                same(member(a[i], key), member(b[i], key), with(with(path, {"", i}), {key, 0}),
                     fmt::format("{}[{}].{}", name, i, key));
    }

    std::vector<Misfit> take() { return std::move(list_); }

private:
    static std::vector<Step> with(std::vector<Step> path, Step step) {
        path.push_back(std::move(step));
        return path;
    }
    bool equal(const Json& a, const Json& b) const {
        if (a == b) return true;
        if (!a.is_string() || !b.is_string()) return false;
        const auto plain = [&](const Json& text) {
            const std::string all = without_folders(text.get<std::string>());
            return lines_ ? all : without_lines(all);
        };
        return plain(a) == plain(b);
    }
    void members(const Json& a, const Json& b, const std::vector<Step>& path, const std::string& name) {
        std::set<std::string> keys;
        for (const auto& [key, value] : a.items()) keys.insert(key);
        for (const auto& [key, value] : b.items()) keys.insert(key);
        for (const std::string& key : keys) {
            const std::string inner = fmt::format("{}.{}", name, key);
            if (!a.contains(key))
                say(path, fmt::format("`{}` is missing, the recipe has {}", inner, b[key].dump()));
            else if (!b.contains(key))
                say(with(path, {key, 0}), fmt::format("`{}` is nothing that the recipe has", inner));
            else
                same(a[key], b[key], with(path, {key, 0}), inner);
        }
    }
    void say(const std::vector<Step>& path, std::string message) {
        const auto at = static_cast<std::uint32_t>(targets::json::locate(bytes_, path));
        list_.push_back({Span{0, at, at + 1}, std::move(message)});
    }

    std::string_view bytes_;
    bool lines_;
    std::vector<Misfit> list_;
};

/// The same compiler, and the same bytes of the same number of files.
bool same_texts(const Json& a, const Json& b) {
    const Json &have = member(a, "sources"), &want = member(b, "sources");
    return member(a, "compiler") == member(b, "compiler") && have.is_array() && want.is_array() &&
           std::equal(have.begin(), have.end(), want.begin(), want.end(),
                      [](const Json& x, const Json& y) { return member(x, "sha256") == member(y, "sha256"); });
}

} // namespace

bool of_other_texts(const ReadTable& table, const Session& session, const Compiled& compiled) {
    if (table.target.name != "json") return false;
    const Json own = targets::provenance_json(compiled.legalised.program, context(session, compiled));
    return !same_texts(member(Json::parse(table.bytes, nullptr, false), "provenance"), own);
}

std::string without_folders(std::string text) {
    constexpr std::string_view ending = ".ath";
    for (std::size_t at = text.find(ending); at != std::string::npos; at = text.find(ending, at + 1)) {
        const std::size_t before = text.find_last_of(" `\"'(\n", at), slash = text.find_last_of("/\\", at);
        const std::size_t begin = before == std::string::npos ? 0 : before + 1;
        if (slash == std::string::npos || slash < begin) continue;
        text.erase(begin, slash + 1 - begin);
        at -= slash + 1 - begin;
    }
    return text;
}

std::vector<Misfit> copied_misfits(const ReadTable& table, std::string_view own, bool very_same) {
    const Json a = Json::parse(table.bytes, nullptr, false), b = Json::parse(own, nullptr, false);
    if (!a.is_object() || !b.is_object()) return {}; // told by the reader
    const bool texts = same_texts(member(a, "provenance"), member(b, "provenance"));
    Copies copies(table.bytes, texts);
    for (const char* key : {"recipe", "rig", "controller", "assumptions", "concessions", "cautions"})
        copies.same(member(a, key), member(b, key), {{key, 0}}, key);
    // Of an older text of the same process only the lines are others.
    if (!very_same || !texts) return copies.take();
    copies.same(member(a, "provenance"), member(b, "provenance"), {{"provenance", 0}}, "provenance");
    const Json &have = member(a, "programs"), &want = member(b, "programs");
    for (std::size_t p = 0; p < std::min(have.size(), want.size()); ++p)
        copies.beside(member(have[p], "segments"), member(want[p], "segments"),
                      {{"programs", 0}, {"", p}, {"segments", 0}}, fmt::format("programs[{}].segments", p),
                      {"defaulted", "source"});
    copies.beside(member(a, "thresholds"), member(b, "thresholds"), {{"thresholds", 0}}, "thresholds",
                  {"source"});
    copies.beside(member(a, "assurance"), member(b, "assurance"), {{"assurance", 0}}, "assurance", {"source"});
    return copies.take();
}

} // namespace athanor::driver
