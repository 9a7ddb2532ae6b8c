#include "compiler/driver/memory.hpp"

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <memory>

#if defined(__GLIBC__)
#include <malloc.h>
#include <sys/mman.h>
#endif

namespace athanor::driver {

namespace {
constexpr std::size_t short_text = 12 << 10; // bytes; less is not worth clearing a large page for
constexpr std::size_t per_byte = 160;        // bytes of memory that a check takes for one of text
constexpr std::size_t most = 512 << 20;
constexpr std::uintptr_t page = 2 << 20; // a large one

struct Free {
    void operator()(void* room) const { std::free(room); }
};
} // namespace

void expect_text(std::size_t bytes) {
#if defined(__GLIBC__)
    if (bytes < short_text) return;
    const std::size_t size = std::min(bytes, most / per_byte) * per_byte;
    // One heap that grows and never shrinks, so that what is freed here stays in it.
    mallopt(M_MMAP_THRESHOLD, static_cast<int>(most));
    mallopt(M_TRIM_THRESHOLD, static_cast<int>(most));
    void* const room = std::malloc(page + size);
    if (room == nullptr) return;
    const std::uintptr_t at = reinterpret_cast<std::uintptr_t>(room), begin = (at + page - 1) / page * page;
    madvise(reinterpret_cast<void*>(begin), size, MADV_HUGEPAGE); // advice: it may be declined
    // What lies before the first large page would come in small ones: it is kept, and never touched.
    bool first = false;
    static const std::unique_ptr<void, Free> kept([&] {
        first = true;
        return std::realloc(room, std::max<std::uintptr_t>(begin - at, 1));
    }());
    if (!first) std::free(room);
#else
    static_cast<void>(bytes);
#endif
}

} // namespace athanor::driver
