// What the program brings along parsed is what its texts parse to, field for field.
#include "compiler/driver/embedded.hpp"
#include "grammar/parse.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace athanor;

TEST_CASE("the trees of the standard library are those of its texts") {
    std::size_t seen = 0;
    for (const EmbeddedFile& file : embedded_files()) {
        const ParsedText& kept = file.content;
        if (!file.path.ends_with(".ath")) {
            CHECK(kept.root == no_node);
            continue;
        }
        INFO(file.path);
        ++seen;
        Files files;
        Diagnostics told;
        const Tree tree = parse(files.add(std::string(file.path), std::string(kept.text)), files, told);
        CHECK(told.empty());
        CHECK(kept.root == tree.root);
        REQUIRE(kept.nodes.size() == tree.nodes().size());
        for (std::size_t i = 0; i < tree.nodes().size(); ++i) {
            const auto& [kind, broken, unit, begin, end, first, next] = tree.nodes()[i]; // all there are
            const SyntaxNode& node = kept.nodes[i];
            const bool same = node.kind == kind && node.broken == broken && node.unit == unit &&
                              node.begin == begin && node.end == end && node.first == first &&
                              node.next == next;
            REQUIRE(same);
        }
        REQUIRE(kept.comments.size() == tree.comments().size());
        for (std::size_t i = 0; i < tree.comments().size(); ++i) {
            const auto& [begin, end] = tree.comments()[i];
            const bool same = kept.comments[i].begin == begin && kept.comments[i].end == end;
            REQUIRE(same);
        }
    }
    CHECK(seen > 3);
}
