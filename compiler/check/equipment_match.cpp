#include "compiler/check/equipment_match.hpp"

#include <memory>

namespace athanor::check {

namespace {

/// What is to be taken behind a place. A reference to a callable of the caller's frame: nothing is copied or
/// kept.
class Then {
public:
    template<class Callable>
    Then(const Callable& callable)
        : callable_(std::addressof(callable)),
          call_([](const void* c, std::size_t at) { return (*static_cast<const Callable*>(c))(at); }) {}
    bool operator()(std::size_t at) const { return call_(callable_, at); }

private:
    const void* callable_;
    bool (*call_)(const void*, std::size_t);
};

bool is_value(Node kind) {
    return kind == Node::number || kind == Node::quantity;
}

bool is_word(Node kind) {
    return kind == Node::word || kind == Node::name || kind == Node::yes || kind == Node::no;
}

/// Backtracking over one property: patterns hold a dozen parts at most, so plain recursion is enough.
class Matcher {
public:
    Matcher(const Tree& tree, std::span<const NodeId> elements, const Files& files, Mismatch* mismatch)
        : tree_(tree), elements_(elements), files_(files), mismatch_(mismatch) {}

    bool run(const Pattern& pattern) {
        static const Pattern end{Pattern::Kind::sequence, {}, {}, {}};
        result.captures.reserve(elements_.size());
        return take(pattern, 0, [&](std::size_t at) { return at == elements_.size() || fail(at, end); });
    }
    Match result;

private:
    bool fail(std::size_t at, const Pattern& wanted) {
        if (mismatch_ == nullptr) return false;
        if (at > mismatch_->element) *mismatch_ = {at, {}, false};
        if (at == mismatch_->element) mismatch_->wanted.push_back(&wanted);
        return false;
    }

    bool take(const Pattern& p, std::size_t at, const Then& then) {
        switch (p.kind) {
        case Pattern::Kind::sequence: return row(p, 0, at, then);
        case Pattern::Kind::choice:
            for (const Pattern& part : p.parts)
                if (take(part, at, then)) return true;
            return false;
        case Pattern::Kind::optional: return take(p.parts[0], at, then) || then(at);
        case Pattern::Kind::list:
            return take(p.parts[0], at, [&](std::size_t behind) {
                if (text(behind) == ",") return take(p, behind + 1, then);
                return then(behind);
            });
        default: return leaf(p, at, then);
        }
    }

    bool row(const Pattern& p, std::size_t part, std::size_t at, const Then& then) {
        if (part == p.parts.size()) return then(at);
        return take(p.parts[part], at,
                    [&, part](std::size_t behind) { return row(p, part + 1, behind, then); });
    }

    std::string_view text(std::size_t at) const {
        if (at >= elements_.size()) return {};
        std::string_view word = tree_.text(elements_[at], files_);
        return word == "+/-" ? std::string_view("±") : word;
    }
    Node kind(std::size_t at) const { return at < elements_.size() ? tree_.kind(elements_[at]) : Node::none; }

    bool leaf(const Pattern& p, std::size_t at, const Then& then) {
        Capture capture;
        capture.form = p.kind;
        capture.type = p.type;
        std::size_t behind = at + 1;
        const bool taken = [&] {
            switch (p.kind) {
            case Pattern::Kind::word: return is_word(kind(at)) && text(at) == p.word;
            case Pattern::Kind::name:
            case Pattern::Kind::reference: return kind(at) == Node::name;
            case Pattern::Kind::text: return kind(at) == Node::text;
            default: return values(p, at, capture.value, behind);
            }
        }();
        if (!taken) return fail(at, p);
        capture.text = text(at);
        if (p.kind == Pattern::Kind::text) capture.text = capture.text.substr(1, capture.text.size() - 2);
        capture.first = elements_[at];
        capture.last = elements_[behind - 1];
        capture.span = hull(tree_.span(capture.first), tree_.span(capture.last));
        result.captures.push_back(capture);
        if (then(behind)) return true;
        result.captures.pop_back();
        return false;
    }

    bool value(std::size_t at, Type type, double& si) const {
        return is_value(kind(at)) && fits(read_literal(tree_, elements_[at], files_), type, si);
    }

    bool values(const Pattern& p, std::size_t at, Interval& result_, std::size_t& behind) {
        double first = 0, second = 0;
        if (!value(at, p.type, first)) return false;
        result_ = first;
        const bool goes_on = text(at + 1) == "to" && value(at + 2, p.type, second);
        if (p.kind == Pattern::Kind::range && !goes_on) return fail(at + 1, p);
        if (p.kind != Pattern::Kind::value && goes_on) {
            // Kept as written; an upside-down range is told by whoever checks bounds.
            result_.lo = first;
            result_.hi = second;
            behind = at + 3;
        } else if (p.kind == Pattern::Kind::uncertain && text(at + 1) == "±" && is_value(kind(at + 2))) {
            if (!uncertain_value(first, p.type, read_literal(tree_, elements_[at + 2], files_), result_)) {
                fail(at + 2, p);
                if (mismatch_ != nullptr && mismatch_->element == at + 2) mismatch_->bad_margin = true;
                return false;
            }
            behind = at + 3;
        }
        return true;
    }

    const Tree& tree_;
    std::span<const NodeId> elements_;
    const Files& files_;
    Mismatch* mismatch_;
};

bool holds_value(const Capture& c) {
    return c.form == Pattern::Kind::value || c.form == Pattern::Kind::uncertain ||
           c.form == Pattern::Kind::range;
}

} // namespace

bool Match::has(std::string_view word) const {
    for (const Capture& c : captures)
        if (c.form == Pattern::Kind::word && c.text == word) return true;
    return false;
}

const Capture* Match::value(Kind kind, unsigned n) const {
    for (const Capture& c : captures)
        if (holds_value(c) && c.type.kind == kind && n-- == 0) return &c;
    return nullptr;
}

const Capture* Match::after(std::string_view word) const {
    bool seen = false;
    for (const Capture& c : captures) {
        if (seen && holds_value(c)) return &c;
        if (c.form == Pattern::Kind::word && c.text == word) seen = true;
    }
    return nullptr;
}

const Capture* Match::named(unsigned n) const {
    for (const Capture& c : captures)
        if ((c.form == Pattern::Kind::name || c.form == Pattern::Kind::reference) && n-- == 0) return &c;
    return nullptr;
}

const Capture* Match::text(unsigned n) const {
    for (const Capture& c : captures)
        if (c.form == Pattern::Kind::text && n-- == 0) return &c;
    return nullptr;
}

Elements elements_of(const Tree& tree, NodeId property) {
    Elements elements;
    for (NodeId part : tree.children(property)) {
        const Node kind = tree.kind(part);
        if (part != tree[property].first && kind != Node::property_block && kind != Node::source)
            elements.push_back(part);
    }
    return elements;
}

std::optional<Match> match(const Pattern& pattern, const Tree& tree, std::span<const NodeId> elements,
                           const Files& files, Mismatch* mismatch) {
    Matcher matcher(tree, elements, files, mismatch);
    if (!matcher.run(pattern)) return std::nullopt;
    return std::move(matcher.result);
}

} // namespace athanor::check
