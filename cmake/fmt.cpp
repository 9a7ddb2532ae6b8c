// The formatting library, compiled once. Debian ships it as headers and as a shared library; the program is
// linked statically, and compiling its bodies into every file takes longer than the rest of most files
// together.
#include <fmt/format-inl.h>

FMT_BEGIN_NAMESPACE
namespace detail {
template dragonbox::decimal_fp<float> dragonbox::to_decimal(float) noexcept;
template dragonbox::decimal_fp<double> dragonbox::to_decimal(double) noexcept;
template locale_ref::locale_ref(const std::locale&);
template std::locale locale_ref::get<std::locale>() const;
template thousands_sep_result<char> thousands_sep_impl(locale_ref);
template char decimal_point_impl(locale_ref);
template void buffer<char>::append(const char*, const char*);
template void vformat_to(buffer<char>&, string_view, basic_format_args<buffer_context<char>>, locale_ref);
} // namespace detail
FMT_END_NAMESPACE
