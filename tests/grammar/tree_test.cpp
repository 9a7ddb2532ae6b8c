// What the parser makes of each form: the whole sample as a golden tree, and the finer points one by one.
#include "tests/grammar/support.hpp"

#include <doctest/doctest.h>

#include <set>

namespace athanor::grammar_test {
namespace {

/// The dump of a text that must parse without an error, its `file` line dropped.
std::string tree_of(const std::string& text) {
    Read read(text);
    CHECK(read.messages() == "");
    std::string dumped = read.dumped(), out;
    std::istringstream lines(dumped);
    std::string line;
    std::getline(lines, line);
    while (std::getline(lines, line)) out += line.substr(2) + '\n';
    return out;
}
/// The dump of one expression.
std::string value_of(const std::string& text) {
    std::string tree = tree_of("let x = " + text), out;
    std::istringstream lines(tree);
    std::string line;
    std::getline(lines, line);
    std::getline(lines, line);
    while (std::getline(lines, line)) out += line.substr(2) + '\n';
    return out;
}

} // namespace

TEST_CASE("a # in a text begins no comment, a quote in a comment no text") {
    Read read("# one \r\nrecipe r \"a # b\" { # two \"q\n    note \"x\" # three # still \"three\"\n}\n"
              "let x = \"never closed # text\n# four\n#");
    std::vector<std::string> found;
    for (const Comment& c : read.tree.comments())
        found.emplace_back(read.files[0].text().substr(c.begin, c.end - c.begin));
    CHECK(found == std::vector<std::string>{"# one", "# two \"q", "# three # still \"three\"", "# four", "#"});
}

TEST_CASE("every form of the language, as a tree") {
    std::string root = std::string(ATHANOR_ROOT) + "/tests/grammar/samples/";
    Read read(file_text(root + "everything.ath"));
    CHECK(read.messages() == "");
    CHECK(read.dumped() == file_text(root + "everything.tree"));
}

TEST_CASE("every kind of node occurs in some text") {
    std::set<Node> seen{Node::none};
    for (std::string text :
         {file_text(std::string(ATHANOR_ROOT) + "/tests/grammar/samples/everything.ath"), std::string("???")}) {
        Read read(text);
        for (const SyntaxNode& node : read.tree.nodes()) seen.insert(node.kind);
    }
    for (unsigned i = 0; i <= static_cast<unsigned>(Node::of); ++i) {
        CAPTURE(name(static_cast<Node>(i)));
        CHECK(seen.contains(static_cast<Node>(i)));
    }
}

TEST_CASE("a unit holds no blanks, and the longest one wins") {
    CHECK(value_of("5 K/min") == "quantity\n  number 5\n  unit K/min\n");
    CHECK(value_of("5K/min") == "quantity\n  number 5\n  unit K/min\n");
    CHECK(value_of("5 K / x") == "divide\n  quantity\n    number 5\n    unit K\n  name x\n");
    CHECK(value_of("5 K / min(x)").starts_with("divide\n"));
    CHECK(value_of("8.1e-6 1/K") == "quantity\n  number 8.1e-6\n  unit 1/K\n");
    CHECK(value_of("1e-5 mbar*L/s") == "quantity\n  number 1e-5\n  unit mbar*L/s\n");
    CHECK(value_of("950 °C") == "quantity\n  number 950\n  unit °C\n");
    CHECK(value_of("150 mbar gauge") == "quantity\n  number 150\n  unit mbar\n  gauge gauge\n");
    CHECK(value_of("5") == "number 5\n");
}

TEST_CASE("a sign directly before a number belongs to it where an operand is due") {
    CHECK(value_of("-40 degC") == "quantity\n  number -40\n  unit degC\n");
    CHECK(value_of("x -40 K") == "subtract\n  name x\n  quantity\n    number 40\n    unit K\n");
    CHECK(value_of("x - -4") == "subtract\n  name x\n  number -4\n");
    CHECK(value_of("- 4") == "negate\n  number 4\n");
    CHECK(value_of("-x") == "negate\n  name x\n");
}

TEST_CASE("a compound time is read greedily") {
    CHECK(value_of("1 h 30 min") == "quantity\n  number 1\n  unit h\n  number 30\n  unit min\n");
    CHECK(value_of("2 d 3 h 4 min 5 s - 1 s") ==
          "subtract\n  quantity\n    number 2\n    unit d\n    number 3\n    unit h\n    number 4\n    unit "
          "min\n    number 5\n    unit s\n"
          "  quantity\n    number 1\n    unit s\n");
}

TEST_CASE("operators bind as in arithmetic, from the left") {
    CHECK(value_of("a - b - c") == "subtract\n  subtract\n    name a\n    name b\n  name c\n");
    CHECK(value_of("a + b * c") == "add\n  name a\n  multiply\n    name b\n    name c\n");
    CHECK(value_of("a * b ± c") == "multiply\n  name a\n  plus_minus\n    name b\n    name c\n");
    CHECK(value_of("a +/- b") == "plus_minus\n  name a\n  name b\n");
    CHECK(value_of("not a < b and c is open") ==
          "and\n  not\n    less\n      name a\n      name b\n  is\n    name c\n    name open\n");
    CHECK(value_of("a and b and c") == "and\n  and\n    name a\n    name b\n  name c\n");
    CHECK(value_of("(a and b) or c") == "or\n  paren\n    and\n      name a\n      name b\n  name c\n");
    CHECK(value_of("temperature of left > 5") ==
          "greater\n  of\n    name temperature\n    name left\n  number 5\n");
}

TEST_CASE("a line goes on inside brackets, behind an operator and behind some words") {
    CHECK(value_of("a +\n  # why\n  b") == "add\n  name a\n  name b\n");
    CHECK(value_of("(a\n + b\n)") == "paren\n  add\n    name a\n    name b\n");
    CHECK(value_of("[a,\n b,\n]") == "list\n  name a\n  name b\n");
    Read read("recipe x\n{\n    require a < 1\n        while b > 2\n    if a < 1 { note \"x\" }\n    # else\n  "
              "  else { note \"y\" }\n}");
    CHECK(read.messages() == "");
    CHECK(read.dumped() == "file\n  recipe\n    name x\n    block\n      require\n        less\n          name "
                           "a\n          number 1\n        guard\n"
                           "          greater\n            name b\n            number 2\n      if_else\n       "
                           " less\n          name a\n          number 1\n"
                           "        block\n          note\n            text \"x\"\n        block\n          "
                           "note\n            text \"y\"\n");
}

TEST_CASE("a property takes elements of any sort, and words of its own") {
    CHECK(tree_of("rig r { loops 1 level, 2 to 999 passes }") ==
          "rig\n  name r\n  property_block\n    property\n      name loops\n      number 1\n      name level\n "
          "     word ,\n      number 2\n"
          "      word to\n      number 999\n      name passes\n");
    CHECK(tree_of("rig r { gas x ; exhaust shut ; load_offset -20 K to 5 K }") ==
          "rig\n  name r\n  property_block\n    property\n      name gas\n      name x\n    property\n      "
          "name exhaust\n      name shut\n"
          "    property\n      name load_offset\n      quantity\n        number -20\n        unit K\n      "
          "word to\n      quantity\n"
          "        number 5\n        unit K\n");
    CHECK(tree_of("material m { class 1 { range 1 K } source \"s\" ; source \"t\" }") ==
          "material\n  name m\n  property_block\n    property\n      name class\n      number 1\n      "
          "property_block\n        property\n"
          "          name range\n          quantity\n            number 1\n            unit K\n      source\n  "
          "      text \"s\"\n"
          "    property\n      name source\n      text \"t\"\n");
}

TEST_CASE("byte order mark and line ends of other systems are accepted") {
    CHECK(tree_of("\xEF\xBB\xBFlet x = 1\r\nlet y = 2\r\n") ==
          "let\n  name x\n  number 1\nlet\n  name y\n  number 2\n");
}

TEST_CASE("a block behind a broken head is still read") {
    Read read("recipe x on on y {\n    dwell 1 h\n    dwell 5 foo\n}\n");
    CHECK(read.messages() ==
          "recipe.ath:1:13: error: `on` is a word of the language and cannot be a name [syntax]\n"
          "recipe.ath:3:13: error: unknown unit `foo` [unknown_unit]\n");
    NodeId recipe = read.tree.child(read.tree.root, Node::recipe);
    REQUIRE(recipe != no_node);
    CHECK(read.tree[recipe].broken);
    CHECK(read.tree.child(read.tree.child(recipe, Node::block), Node::dwell) != no_node);
}

} // namespace athanor::grammar_test
