#include "compiler/driver/text_file.hpp"

#include "grammar/parse.hpp"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace athanor::driver {

std::optional<std::string> read_file(const std::string& path, std::string& error) {
    int file = path == "-" ? STDIN_FILENO : ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) {
        error = std::strerror(errno);
        return std::nullopt;
    }
    std::string text;
    std::size_t expected = 1U << 16U;
    struct stat status {};
    if (::fstat(file, &status) == 0) {
        if (S_ISDIR(status.st_mode)) {
            error = "it is a folder";
            if (file != STDIN_FILENO) ::close(file);
            return std::nullopt;
        }
        if (S_ISREG(status.st_mode) && status.st_size > 0)
            expected = std::min(static_cast<std::size_t>(status.st_size), max_file_bytes) + 1;
    }
    std::size_t size = 0;
    bool failed = false;
    while (size <= max_file_bytes) {
        if (size == text.size()) text.resize(std::max(expected, 2 * size));
        ssize_t n = ::read(file, text.data() + size, text.size() - size);
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) {
            error = std::strerror(errno);
            failed = true;
        }
        if (n <= 0) break;
        size += static_cast<std::size_t>(n);
    }
    text.resize(size);
    if (file != STDIN_FILENO) ::close(file);
    if (failed) return std::nullopt;
    return text;
}

} // namespace athanor::driver
