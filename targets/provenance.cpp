#include "targets/provenance.hpp"

#include "compiler/timeline/timeline.hpp"
#include "targets/words.hpp"

#include <fmt/format.h>

namespace athanor::targets {

using Json = nlohmann::ordered_json;

namespace {

/// "gas and flow"
std::string defaulted_words(std::uint8_t bits) {
    namespace of = timeline::defaulted;
    std::vector<std::string> words;
    if ((bits & of::rate) != 0) words.emplace_back("rate");
    if ((bits & of::time) != 0) words.emplace_back("time");
    if ((bits & of::gas) != 0) words.emplace_back("gas");
    if ((bits & of::flow) != 0) words.emplace_back("flow");
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i)
        text += (i == 0 ? "" : i + 1 == words.size() ? " and " : ", ") + words[i];
    return text;
}

} // namespace

std::vector<std::string> defaults_used(const program::Program& program, const Context& context) {
    std::vector<std::string> list;
    for (const program::Part& part : program.parts)
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            if (part.segments[i].defaulted == 0) continue;
            std::string at = place(part.segments[i].source, context);
            list.push_back(fmt::format("programme {}, segment {}: {} by default{}", part.number, i + 1,
                                       defaulted_words(part.segments[i].defaulted),
                                       at.empty() ? "" : " (" + at + ")"));
        }
    return list;
}

Json provenance_json(const program::Program& program, const Context& context) {
    Json parameters = Json::object(), sources = Json::array();
    for (const auto& [name, value] : context.parameters) parameters[name] = value;
    for (const SourceHash& source : context.sources)
        sources.push_back({{"path", source.path}, {"sha256", source.sha256}});
    Json out;
    out["recipe"] = {{"name", program.recipe}, {"title", program.title}, {"parameters", std::move(parameters)}};
    out["rig"] = program.rig;
    out["controller"] = program.controller.name;
    out["compiler"] = context.compiler;
    out["sources"] = std::move(sources);
    out["defaults"] = defaults_used(program, context);
    out["assumptions"] = context.assurance.assumptions;
    out["concessions"] = context.assurance.concessions;
    out["cautions"] = cautions(context);
    return out;
}

std::vector<std::string> provenance_lines(const program::Program& program, const Context& context) {
    std::vector<std::string> list;
    list.push_back(
        fmt::format("recipe {}, rig {}, controller {}", program.recipe, program.rig, program.controller.name));
    list.push_back("written by " + context.compiler);
    for (const auto& [name, value] : context.parameters) list.push_back("parameter " + name + " = " + value);
    for (const SourceHash& source : context.sources)
        list.push_back("source " + source.path + " sha256 " + source.sha256);
    for (const std::string& text : defaults_used(program, context)) list.push_back("default: " + text);
    for (const std::string& text : context.assurance.assumptions) list.push_back("assumption: " + text);
    for (const std::string& text : context.assurance.concessions) list.push_back("concession: " + text);
    return list;
}

std::string ascii(std::string_view text) {
    std::string out;
    for (char c : text) {
        auto byte = static_cast<unsigned char>(c);
        if ((byte & 0xC0U) == 0x80U) continue; // one mark for one letter
        out += c == '\t' ? ' ' : byte >= 0x20 && byte < 0x7F ? c : '?';
    }
    return out;
}

} // namespace athanor::targets
