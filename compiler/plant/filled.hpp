#pragma once
#include <cstddef>
#include <cstring>
#include <type_traits>

namespace athanor::plant {

/// At most N values in place, of which the first ones are set; the others read as T{}. Copies cost what is set.
template<class T, std::size_t N>
class Filled {
    static_assert(std::is_trivially_copyable_v<T> && std::is_trivially_destructible_v<T>);

public:
    Filled() {}
    Filled(const Filled& other) { copy(other); }
    Filled& operator=(const Filled& other) {
        if (this != &other) copy(other);
        return *this;
    }

    std::size_t size() const { return size_; }
    const T& operator[](std::size_t i) const { return i < size_ ? values_[i] : unset; }
    /// i < N; what lies before it becomes set, too.
    T& operator[](std::size_t i) {
        if (i >= size_) grow(i + 1);
        return values_[i];
    }
    T* begin() { return values_; }
    T* end() { return values_ + size_; }
    const T* begin() const { return values_; }
    const T* end() const { return values_ + size_; }
    void clear() { size_ = 0; }
    /// The first `size`, each to be set by the caller: what they are until then is not known.
    T* overwrite(std::size_t size) {
        size_ = size;
        return values_;
    }
    void grow(std::size_t size) {
        for (; size_ < size; ++size_) values_[size_] = T{};
    }

private:
    static constexpr T unset{};

    void copy(const Filled& other) {
        size_ = other.size_;
        std::memcpy(static_cast<void*>(values_), other.values_, size_ * sizeof(T));
    }

    std::size_t size_ = 0;
    union { // left as it is where nothing is set
        T values_[N];
    };
};

} // namespace athanor::plant
