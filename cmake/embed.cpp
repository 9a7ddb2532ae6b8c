// Writes the C++ file that defines athanor::embedded_files() (compiler/driver/embedded.hpp):
//     athanor_embed OUTPUT ROOT FILE…
// The texts as they are, and of the files of the language their trees too.
#include "compiler/source/render.hpp"
#include "grammar/parse.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>

namespace {

using namespace athanor;

/// A literal for each line: one of more than 64 KiB is not portable.
std::string literal(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte < ' ' || byte > '~' || c == '"' || c == '\\')
            out += fmt::format("\\{:03o}", byte);
        else
            out += c;
        if (c == '\n') out += "\"\n\"";
    }
    return out + '"';
}

/// Declares the arrays of a tree.
std::string arrays(const Tree& tree, std::size_t number) {
    std::string out =
        fmt::format("constexpr std::array<SyntaxNode, {}> nodes_{}{{{{\n", tree.nodes().size(), number);
    for (const SyntaxNode& node : tree.nodes())
        out += fmt::format("{{Node({}),false,{},{},{},{},{}}},\n", static_cast<unsigned>(node.kind), node.unit,
                           node.begin, node.end, node.first, node.next);
    out +=
        fmt::format("}}}};\nconstexpr std::array<Comment, {}> comments_{}{{\n", tree.comments().size(), number);
    for (const Comment& comment : tree.comments())
        out += fmt::format("Comment{{{},{}}},\n", comment.begin, comment.end);
    return out + "};\n";
}

} // namespace

int main(int count, char** arguments) {
    if (count < 3) {
        fmt::print(stderr, "usage: athanor_embed OUTPUT ROOT FILE...\n");
        return 2;
    }
    const std::string root = std::string(arguments[2]) + '/';
    std::string trees, list;
    for (int i = 3; i < count; ++i) {
        const std::string path = arguments[i];
        std::ifstream in(path, std::ios::binary);
        const std::string text{std::istreambuf_iterator<char>(in), {}};
        if (!in.is_open() || in.bad()) {
            fmt::print(stderr, "{}: cannot be read\n", path);
            return 1;
        }
        list += fmt::format("{{{}, {{{}, ", literal(path.substr(root.size())), literal(text));
        if (path.ends_with(".ath")) {
            Files files;
            Diagnostics told;
            const Tree tree = parse(files.add(path, text), files, told);
            for (const Diagnostic& d : told.all()) fmt::print(stderr, "{}\n", render_short(d, files));
            if (!told.empty()) return 1;
            trees += arrays(tree, static_cast<std::size_t>(i));
            list += fmt::format("nodes_{0}, comments_{0}, {1}}}}},\n", i, tree.root);
        } else {
            list += "{}, {}, no_node}},\n";
        }
    }
    std::ofstream out(arguments[1], std::ios::binary);
    out << "#include \"compiler/driver/embedded.hpp\"\n\n#include <array>\n\nnamespace athanor {\nnamespace {\n"
        << trees << "constexpr EmbeddedFile files[] = {\n"
        << list << "};\n} // namespace\n"
        << "std::span<const EmbeddedFile> embedded_files() {\n    return files;\n}\n} // namespace athanor\n";
    if (out.flush()) return 0;
    fmt::print(stderr, "{}: cannot be written\n", arguments[1]);
    return 1;
}
