# Writes OUTPUT, a C++ file that defines athanor::embedded_files() (compiler/driver/embedded.hpp).
file(GLOB inputs ${ROOT}/recipes/standard/*.ath ${ROOT}/docs/diagnostics/*.md ${ROOT}/docs/*.schema.json)
set(text "#include \"compiler/driver/embedded.hpp\"\n\nnamespace athanor {\nstd::span<const EmbeddedFile> embedded_files() {\n    static constexpr EmbeddedFile files[] = {\n")
foreach(input IN LISTS inputs)
    file(READ ${input} content HEX)
    file(RELATIVE_PATH path ${ROOT} ${input})
    # String literals longer than 64 KiB are not portable: concatenate lines of 4000 escaped bytes.
    string(REGEX REPLACE "([0-9a-f][0-9a-f])" "\\\\x\\1" content "${content}")
    string(REGEX REPLACE "((\\\\x[0-9a-f][0-9a-f])(\\\\x[0-9a-f][0-9a-f])(\\\\x[0-9a-f][0-9a-f])(\\\\x[0-9a-f][0-9a-f])(\\\\x[0-9a-f][0-9a-f])(\\\\x[0-9a-f][0-9a-f])(\\\\x[0-9a-f][0-9a-f])(\\\\x[0-9a-f][0-9a-f]))" "\\1\"\n\"" content "${content}")
    string(APPEND text "{\"${path}\", \"${content}\"},\n")
endforeach()
string(APPEND text "    };\n    return files;\n}\n} // namespace athanor\n")
file(WRITE ${OUTPUT} "${text}")
