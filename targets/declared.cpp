#include "targets/declared.hpp"

#include "targets/layout/layout.hpp"
#include "targets/registers/registers.hpp"

#include <memory>

namespace athanor::targets {
namespace {

/// The word behind `form`; another check reports a wrong one.
bool is_register_map(const Tree& tree, NodeId id, const Files& files) {
    for (NodeId at : tree.children(id))
        if (tree.kind(at) == Node::property && tree.text(tree.child(at, 0U), files) == "form")
            if (NodeId value = tree.child(at, 1U); value != no_node)
                return tree.text(value, files) == "registers";
    return false;
}

template<typename Form, typename Namespace>
void fill(Declared& declared, std::optional<Form> form, Namespace functions) {
    if (!form) return;
    auto shared = std::make_shared<const Form>(std::move(*form));
    declared.target.write = [shared, functions](const program::Program& program, const Context& context,
                                                std::string_view stem) {
        return functions.write(*shared, program, context, stem);
    };
    declared.target.read = [shared, functions](std::string_view bytes, const program::Program& shape,
                                               ReadError& error) {
        return functions.read(*shared, bytes, shape, error);
    };
    declared.target.losses = [shared, functions](const program::Program& program, const Context& context) {
        return functions.losses(*shared, program, context);
    };
}

template<typename Form>
struct Functions {
    std::vector<OutputFile> (*write)(const Form&, const program::Program&, const Context&, std::string_view);
    std::optional<program::Program> (*read)(const Form&, std::string_view, const program::Program&, ReadError&);
    std::vector<Loss> (*losses)(const Form&, const program::Program&, const Context&);
};

} // namespace

std::vector<Declared> declared_targets(const Tree& tree, const Files& files, Diagnostics& out) {
    std::vector<Declared> list;
    for (NodeId id : tree.children(tree.root)) {
        NodeId name = tree.child(id, Node::name);
        if (tree.kind(id) != Node::layout || name == no_node) continue;
        Declared& declared = list.emplace_back();
        declared.target.name = tree.text(name, files);
        declared.span = tree.span(name);
        if (NodeId at = tree.child(id, Node::for_controller); at != no_node)
            if (NodeId controller = tree.child(at, Node::name); controller != no_node) {
                declared.controller = tree.text(controller, files);
                declared.controller_span = tree.span(controller);
            }
        if (is_register_map(tree, id, files)) {
            declared.family = "registers";
            declared.target.ending = "json";
            fill(declared, registers::read_declaration(tree, id, files, out),
                 Functions<registers::Map>{registers::write, registers::read, registers::losses});
        } else {
            declared.family = "layout";
            std::optional<layout::Layout> form = layout::read_declaration(tree, id, files, out);
            if (form) declared.target.ending = form->ending;
            declared.target.instructions = form && form->has(sheet::Field::instruction);
            fill(declared, std::move(form),
                 Functions<layout::Layout>{layout::write, layout::read, layout::losses});
        }
        // The parser has reported what it could not read; nothing may be written by the rest.
        if (tree[id].broken) declared.target = Target{declared.target.name, {}, {}, {}, {}, {}};
    }
    return list;
}

} // namespace athanor::targets
