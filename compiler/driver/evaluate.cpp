// `evaluate`: one expression of the language, worked out. It is checked as the value of a `let` in a small
// file, and its findings are shown in the expression itself.
#include "compiler/check/evaluate.hpp"
#include "compiler/check/functions.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/quantity/unit.hpp"
#include "grammar/scan.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>

namespace athanor::driver {
namespace {

constexpr int digits = 6;

struct Work {
    Session session;
    check::Value value;
    std::uint32_t before = 0; // bytes in front of the expression
    check::ExprId expr = 0;
};

/// The text around the expression: one line, which ends with it, so that no message speaks of a sign that
/// nobody typed. Comments and line ends are blanks in it.
std::string wrapped(const std::vector<std::string>& imports, std::string expression, std::uint32_t& before) {
    for (const Comment& comment : grammar::comments_of(expression))
        std::fill(expression.begin() + comment.begin, expression.begin() + comment.end, ' ');
    std::replace_if(
        expression.begin(), expression.end(), [](char c) { return c == '\n' || c == '\r'; }, ' ');
    std::string text;
    for (const std::string& path : imports) text += fmt::format("use \"{}\"\n", path);
    text += "let evaluated_expression = ";
    before = static_cast<std::uint32_t>(text.size());
    return text + expression;
}

/// Beside the first file that it uses, so that the rules of imports hold for the others.
std::string place_of(const EvaluateOptions& options, std::vector<std::string>& imports) {
    namespace fs = std::filesystem;
    const fs::path folder = options.uses.empty() ? fs::path() : fs::path(options.uses.front()).parent_path();
    for (const std::string& use : options.uses) {
        const fs::path relative = folder.empty() ? fs::path(use) : fs::path(use).lexically_relative(folder);
        imports.push_back((relative.empty() ? fs::path(use) : relative).generic_string());
    }
    return (folder / "expression").generic_string();
}

/// One `let` and nothing else.
bool one_expression(const Session& session, std::size_t imports) {
    for (const check::Unit& unit : session.units) {
        if (!unit.named) continue;
        std::size_t children = 0;
        for (NodeId node : unit.tree.children(unit.tree.root)) {
            static_cast<void>(node);
            ++children;
        }
        return children == imports + 1;
    }
    return false;
}

void work_out(Work& work, const EvaluateOptions& options) {
    std::vector<std::string> imports;
    const std::string path = place_of(options, imports);
    const std::string text = wrapped(imports, options.expression, work.before);
    Diagnostics& out = work.session.out;
    if (text.find_first_not_of(" \t", work.before) == std::string::npos) {
        work.session.files.add(path, text);
        out.error(Code::syntax, Span{0, work.before, work.before}, "the expression is empty")
            .remedy("write one, such as `2 h + 15 min`");
        return;
    }
    work.session.open(Given{path, text}, options);
    if (!out.any_error() && !one_expression(work.session, imports.size()))
        out.error(Code::syntax, Span{0, work.before, work.before + 1}, "this is more than one expression");
    if (out.any_error()) return;
    for (const auto& [name, expr] : work.session.model.lets)
        if (work.session.model.names[name] == "evaluated_expression") work.expr = expr;
    work.value = check::evaluate(work.session.model, work.expr, check::Frame{}, out);
}

/// The findings with their places in the expression as it was typed.
void print_findings(const Work& work, const EvaluateOptions& options) {
    const Files& files = work.session.files;
    Files shown;
    for (FileId id = 0; id < files.size(); ++id)
        shown.add(id == 0 ? "expression" : files[id].path(),
                  id == 0 ? options.expression : std::string(files[id].text()), files[id].standard());
    const auto length = static_cast<std::uint32_t>(options.expression.size());
    const auto moved = [&](Span span) {
        if (span.file != 0) return span;
        const auto inside = [&](std::uint32_t at) {
            return at < work.before ? 0 : std::min(at - work.before, length);
        };
        return Span{0, inside(span.begin), inside(span.end)};
    };
    Diagnostics out;
    for (Diagnostic d : work.session.out.all()) {
        if (d.code == Code::never_used) continue;
        if (d.span.file == 0) d.message = in_an_option(d.message, "expression");
        d.span = moved(d.span);
        // What stands in front of the expression is ours, not the reader's.
        std::erase_if(d.related, [&](const Label& label) {
            return label.span.file == 0 && label.span.begin < work.before;
        });
        for (Label& label : d.related) label.span = moved(label.span);
        if (d.edit) d.edit->span = moved(d.edit->span);
        out.add(d);
    }
    print_messages(out, shown, options);
}

/// A number that nine digits hold is shown whole, any other rounded.
std::string number_text(const check::Value& v) {
    Interval number = v.number;
    // What directed rounding adds to a number that is certain is no uncertainty.
    if (number.width() <= 1e-12 * std::abs(number.middle())) number = Interval(number.middle());
    const std::string whole = check::readable(number, v.type, 9);
    return whole == check::readable(number, v.type, 12) ? whole : check::readable(number, v.type, digits);
}

std::string shown(const check::Model& model, const check::Value& v) {
    if (v.type.kind == Kind::text && v.index == check::none && v.list.empty()) return "none";
    if (!v.list.empty()) {
        std::string text;
        for (const check::Value& item : v.list) text += (text.empty() ? "" : ", ") + shown(model, item);
        return text;
    }
    switch (v.type.kind) {
    case Kind::boolean: return v.number == Interval(1) ? "yes" : v.number == Interval(0) ? "no" : "yes or no";
    case Kind::gas: return model.gases[v.index].name;
    case Kind::text: return model.texts[v.index];
    default: return number_text(v);
    }
}

/// A wrong --in.
void refuse_unit(Code code, const std::string& message, const EvaluateOptions& options) {
    if (options.format != MessageFormat::json) {
        fmt::print(stderr, "athanor evaluate: {}\n", message);
        return;
    }
    Files files;
    files.add("expression", options.expression);
    Diagnostics out;
    out.error(code, Span{}, message);
    print_messages(out, files, options);
}

/// In the unit that was asked for; nullopt, with a message, when it is none of the value's.
std::optional<std::string> shown_in(const check::Value& v, const EvaluateOptions& options) {
    const std::string& spelling = options.in;
    const athanor::Unit* unit = unit_named(spelling);
    if (unit == nullptr) {
        refuse_unit(Code::unknown_unit,
                    fmt::format("there is no unit `{}`; `athanor units` lists them", spelling), options);
        return std::nullopt;
    }
    const bool fits = v.type.quantity() && unit->dimension == v.type.dimension &&
                      (point(v.type) || unit->offset == 0) && v.list.empty();
    if (!fits) {
        refuse_unit(Code::unit_mismatch, fmt::format("`{}` is no unit for {}", spelling, describe(v.type)),
                    options);
        return std::nullopt;
    }
    return to_text(v.number, *unit, digits) + (v.type.kind == Kind::overpressure ? " gauge" : "");
}

/// Functions of the expression, each once.
std::vector<const check::Function*> called(const Work& work) {
    std::vector<const check::Function*> list;
    for (const check::Expr& e : work.session.model.exprs) {
        if (e.op != check::Op::call || e.span.file != 0) continue;
        const check::Function* f = &check::functions()[e.index];
        if (f->compute != nullptr && std::find(list.begin(), list.end(), f) == list.end()) list.push_back(f);
    }
    return list;
}

void print_plain(const std::string& value, const std::vector<const check::Function*>& functions) {
    fmt::print("{}\n", value);
    for (const check::Function* f : functions)
        fmt::print("    {}: {}\n        source: {}\n", f->name, f->does, f->source);
}

/// One object a line, as messages are.
void print_json(const std::string& value, const std::vector<const check::Function*>& functions) {
    nlohmann::ordered_json out{{"value", value}, {"functions", nlohmann::ordered_json::array()}};
    for (const check::Function* f : functions)
        out["functions"].push_back({{"name", f->name}, {"does", f->does}, {"source", f->source}});
    fmt::print("{}\n", out.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace));
}

} // namespace

std::optional<std::string> value_text(const std::string& expression) {
    EvaluateOptions options;
    options.expression = expression;
    Work work;
    work_out(work, options);
    if (work.session.out.any_error() || work.value.poison()) return std::nullopt;
    return shown(work.session.model, work.value);
}

int run_evaluate(const EvaluateOptions& given) {
    EvaluateOptions options = given;
    if (given.expression == "-") {
        std::string error;
        const auto text = read_file("-", error);
        if (!text) {
            print_file_error("standard input", error, options);
            return exit_usage;
        }
        options.expression = text->substr(0, text->find_last_not_of("\r\n") + 1);
    }
    for (const std::string& use : options.uses) {
        std::string error =
            use.find_first_of("\"\n\r") != std::string::npos ? "a quote or line end in its name" : "";
        if (error.empty() && read_file(use, error)) continue;
        print_file_error(use, error, options);
        return exit_usage;
    }
    Work work;
    work_out(work, options);
    print_findings(work, options);
    if (work.session.out.any_error()) return exit_refused;
    std::string text = shown(work.session.model, work.value);
    if (!options.in.empty()) {
        const auto in_unit = shown_in(work.value, options);
        if (!in_unit) return exit_usage;
        text = *in_unit;
    }
    const auto functions = options.value_only ? std::vector<const check::Function*>{} : called(work);
    (options.format == MessageFormat::json ? print_json : print_plain)(text, functions);
    return exit_proven;
}

} // namespace athanor::driver
