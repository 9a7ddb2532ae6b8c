#pragma once
#include <algorithm>
#include <array>
#include <cstddef>
#include <initializer_list>
#include <iterator>
#include <type_traits>
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

    std::size_t size() const { return size_; }
    bool empty() const { return size_ == 0; }
    T* data() { return size_ <= room ? here_.data() : more_.data(); }
    const T* data() const { return size_ <= room ? here_.data() : more_.data(); }
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
        size_ = 0;
        more_.clear();
    }
    void push_back(T value) {
        if (size_ < room) {
            here_[size_++] = value;
            return;
        }
        if (size_ == room) more_.assign(here_.begin(), here_.end());
        more_.push_back(value);
        ++size_;
    }
    void resize(std::size_t count, T value = T{}) {
        if (count <= room && size_ > room) std::copy_n(more_.begin(), count, here_.begin());
        if (count > room && size_ <= room) more_.assign(here_.begin(), here_.begin() + size_);
        if (count > room)
            more_.resize(count, value);
        else if (size_ < count)
            std::fill(here_.begin() + size_, here_.begin() + count, value);
        size_ = count;
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
    std::size_t size_ = 0;
    std::array<T, room> here_{};
    std::vector<T> more_;
};

} // namespace athanor
