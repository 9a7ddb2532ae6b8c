#include "targets/layout/properties.hpp"
#include "targets/registers/registers.hpp"
#include "targets/words.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace athanor::targets::registers {
namespace {

using layout::Measure;
using layout::Properties;

Measure measure_of(What what) {
    switch (what) {
    case What::target:
    case What::threshold_temperature: return Measure::temperature;
    case What::soak_band: return Measure::difference;
    case What::rate: return Measure::rate;
    case What::ramp_time:
    case What::dwell: return Measure::time;
    case What::channel: return Measure::flow;
    default: return Measure::none;
    }
}

class Declaration {
public:
    Declaration(const Tree& tree, NodeId id, const Files& files, Diagnostics& out)
        : properties_(tree, files, out) {
        NodeId name = tree.child(id, Node::name);
        map_.name = tree.text(name, files);
        map_.span = tree.span(name);
        if (NodeId at = tree.child(id, Node::for_controller); at != no_node)
            map_.controller = tree.text(tree.child(at, Node::name), files);
        for (const Properties::Property& property : properties_.of(id)) read(property);
        if (NodeId at = tree.child(id, Node::column); at != no_node)
            properties_.wrong(tree.span(at), Code::misplaced, "a register map has registers, no columns");
        for (What what : {What::enable, What::kind, What::target})
            if (!map_.find(what))
                properties_.wrong(map_.span, Code::value_missing,
                                  what == What::enable
                                      ? "a register map needs `register enable { address … }`: without it a "
                                        "transfer that breaks off leaves half a programme that can be started"
                                      : fmt::format("a register map needs `register {} {{ address … }}`",
                                                    registers::name(what)));
        if (map_.segment_stride == 0)
            properties_.wrong(map_.span, Code::value_missing,
                              "a register map needs `segment_stride`: how far segments lie apart");
        if (map_.kinds.empty())
            properties_.wrong(map_.span, Code::value_missing,
                              "a register map needs `kinds { ramp 1 ; dwell 2 ; … }`");
    }

    std::optional<Map> take() {
        if (properties_.failed()) return std::nullopt;
        return std::move(map_);
    }

private:
    void read(const Properties::Property& property) {
        const std::string& name = property.name;
        if (name == "register") return one(property);
        if (!given_.insert(name).second)
            return properties_.wrong(properties_.span(property.id), Code::duplicate_name,
                                     fmt::format("`{}` stands here a second time", name));
        auto stride = [&](std::uint32_t& to) {
            if (auto value = properties_.whole(property, 1, 65535)) to = static_cast<std::uint32_t>(*value);
        };
        if (name == "programme_stride") {
            stride(map_.programme_stride);
        } else if (name == "segment_stride") {
            stride(map_.segment_stride);
        } else if (name == "words") {
            if (auto value = properties_.word(property, {"high_first", "low_first"}))
                map_.high_first = *value == "high_first";
        } else if (name == "kinds") {
            kinds(property);
        } else if (name != "form") {
            properties_.wrong(properties_.span(property.id), Code::unknown_property,
                              fmt::format("a register map has no `{}`; it has form, words, programme_stride, "
                                          "segment_stride, kinds, register",
                                          name));
        }
    }

    void kinds(const Properties::Property& property) {
        std::set<std::int64_t> used;
        for (const Properties::Property& each : properties_.of(property.block)) {
            if (!segment_kind(each.name)) {
                properties_.wrong(
                    properties_.span(each.id), Code::unknown_name,
                    fmt::format("`{}` is none of ramp, dwell, step, ramp_dwell, operator, end", each.name));
                continue;
            }
            std::optional<std::int64_t> value = properties_.whole(each, -32768, 65535);
            if (!value) continue;
            if (!used.insert(*value).second)
                properties_.wrong(properties_.span(each.id), Code::duplicate_name,
                                  fmt::format("two kinds are written {}", *value));
            map_.kinds.emplace_back(each.name, *value);
        }
    }

    void one(const Properties::Property& property) {
        Register reg;
        reg.span = properties_.span(property.id);
        std::string word = property.elements.empty() ? "" : properties_.text(property.elements[0]);
        std::string list;
        bool found = false;
        for (int i = 0; i <= static_cast<int>(What::loop_passes); ++i) {
            auto what = static_cast<What>(i);
            list += (list.empty() ? "" : ", ") + std::string(name(what));
            if (name(what) == word) reg.what = what, found = true;
        }
        if (!found)
            return properties_.wrong(reg.span, Code::unknown_name,
                                     fmt::format("`register` is followed by one of {}", list));
        reg.measure = measure_of(reg.what);
        std::set<std::string> given;
        for (const Properties::Property& each : properties_.of(property.block)) {
            given.insert(each.name);
            if (each.name == "address") {
                if (auto value = properties_.whole(each, 0, 65535))
                    reg.address = static_cast<std::uint32_t>(*value);
            } else if (each.name == "type") {
                type(each, reg);
            } else if (each.name == "scale" && reg.measure != Measure::none) {
                if (auto scale = properties_.scale(each, reg.measure)) reg.scale = *scale;
            } else if (each.name == "of") {
                for (NodeId id : each.elements)
                    if (properties_.text(id) != ",") reg.of.push_back(properties_.text(id));
            } else if (each.name == "none") {
                if (auto value = properties_.whole(each, INT32_MIN, UINT32_MAX)) reg.none = *value;
            } else if (each.name == "on" && reg.what == What::enable) {
                if (auto value = properties_.whole(each, -32768, 65535)) reg.on = *value;
            } else if (each.name == "off" && reg.what == What::enable) {
                if (auto value = properties_.whole(each, -32768, 65535)) reg.off = *value;
            } else {
                properties_.wrong(properties_.span(each.id), Code::unknown_property,
                                  fmt::format("register {} has no `{}`", word, each.name));
            }
        }
        if (!given.contains("address"))
            properties_.wrong(reg.span, Code::value_missing, fmt::format("register {} has no address", word));
        if (reg.measure != Measure::none && !given.contains("scale"))
            properties_.wrong(
                reg.span, Code::value_missing,
                fmt::format("register {} needs `scale`: what 1 in it stands for, such as `scale 0.1 {}`", word,
                            table_unit(reg.measure)));
        bool outputs = reg.what == What::outputs, output = reg.what == What::output;
        if ((outputs && reg.of.empty()) || (output && reg.of.size() != 1))
            properties_.wrong(reg.span, Code::value_missing,
                              fmt::format("which? `register {} {{ of argon ; … }}`", word));
        if (reg.what == What::enable && reg.on == reg.off)
            properties_.wrong(reg.span, Code::rig_inconsistent, "`on` and `off` of enable are the same");
        auto [lo, hi] = range(reg.type);
        for (std::int64_t code : {reg.none, reg.on, reg.off})
            if (code < lo || code > hi)
                properties_.wrong(
                    reg.span, Code::value_not_settable,
                    fmt::format("{} does not fit {}, which takes {} to {}", code, name(reg.type), lo, hi));
        map_.registers.push_back(std::move(reg));
    }

    void type(const Properties::Property& property, Register& reg) {
        auto value = properties_.word(property, {"int16", "uint16", "int32", "uint32", "float32"});
        if (!value) return;
        for (Type type : {Type::int16, Type::uint16, Type::int32, Type::uint32, Type::float32})
            if (name(type) == *value) reg.type = type;
        if (reg.type == Type::float32 && reg.measure == Measure::none)
            properties_.wrong(properties_.span(property.id), Code::unit_mismatch,
                              "a count or a code is a whole number: no float32");
    }

    Properties properties_;
    Map map_;
    std::set<std::string> given_;
};

} // namespace

const Register* Map::find(What what) const {
    for (const Register& each : registers)
        if (each.what == what) return &each;
    return nullptr;
}

std::optional<Map> read_declaration(const Tree& tree, NodeId id, const Files& files, Diagnostics& out) {
    return Declaration(tree, id, files, out).take();
}

} // namespace athanor::targets::registers
