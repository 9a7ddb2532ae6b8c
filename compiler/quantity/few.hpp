#pragma once
#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <iterator>
#include <memory>
#include <type_traits>
#include <utility>
#include <vector>

namespace athanor {

/// A list that is nearly always short, such as one number a zone: up to `room` elements lie in the object
/// itself. More go into a vector, all of them: the elements always lie side by side. One that was moved from
/// may only be assigned or destroyed.
template<class T, std::size_t room = 4>
class Few {
    static_assert(std::is_trivially_copyable_v<T>);

public:
    using value_type = T;
    using iterator = T*;
    using const_iterator = const T*;

    Few() = default;
    Few(std::initializer_list<T> list) { assign(list.begin(), list.end()); }
    Few(const std::vector<T>& list) { assign(list.begin(), list.end()); }
    explicit Few(std::size_t count, T value = T{}) { resize(count, value); }
    template<std::input_iterator Iterator>
    Few(Iterator first, Iterator last) {
        assign(first, last);
    }
    Few(const Few& other) : here_(other.here_), size_(other.size_) {
        if (other.more_) more_ = std::make_unique<std::vector<T>>(*other.more_);
    }
    Few(Few&&) noexcept = default;
    Few& operator=(const Few& other) {
        if (this == &other) return *this;
        more_ = other.more_ ? std::make_unique<std::vector<T>>(*other.more_) : nullptr;
        here_ = other.here_;
        size_ = other.size_;
        return *this;
    }
    Few& operator=(Few&&) noexcept = default;
    ~Few() = default;

    std::size_t size() const { return size_; }
    bool empty() const { return size_ == 0; }
    T* data() { return more_ ? more_->data() : here_.data(); }
    const T* data() const { return more_ ? more_->data() : here_.data(); }
    T* begin() { return data(); }
    T* end() { return data() + size_; }
    const T* begin() const { return data(); }
    const T* end() const { return data() + size_; }
    T& operator[](std::size_t i) { return data()[i]; }
    const T& operator[](std::size_t i) const { return data()[i]; }
    T& front() { return data()[0]; }
    const T& front() const { return data()[0]; }
    T& back() { return data()[size_ - 1]; }
    const T& back() const { return data()[size_ - 1]; }

    void clear() {
        more_.reset();
        size_ = 0;
    }
    void push_back(T value) {
        if (size_ < room)
            here_[size_++] = value;
        else
            push_beyond(value);
    }
    void resize(std::size_t count, T value = T{}) {
        if (count > room) {
            if (!more_) more_ = std::make_unique<std::vector<T>>(begin(), end());
            more_->resize(count, value);
        } else {
            if (more_) {
                std::copy_n(more_->begin(), count, here_.begin());
                more_.reset();
            }
            if (size_ < count) std::fill(here_.begin() + size_, here_.begin() + count, value);
        }
        size_ = static_cast<std::uint32_t>(count);
    }
    void assign(std::size_t count, T value) {
        clear();
        resize(count, value);
    }
    template<std::input_iterator Iterator>
    void assign(Iterator first, Iterator last) {
        clear();
        for (; first != last; ++first) push_back(*first);
    }

    operator std::vector<T>() const { return {begin(), end()}; }
    bool operator==(const Few& other) const {
        return size_ == other.size_ && std::equal(begin(), end(), other.begin());
    }

private:
    [[gnu::noinline]] void push_beyond(T value) { resize(size_ + std::size_t{1}, value); }

    std::unique_ptr<std::vector<T>> more_; // only where there are more than `room`, and then all
    std::array<T, room> here_{};
    std::uint32_t size_ = 0;
};

} // namespace athanor
