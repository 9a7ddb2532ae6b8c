# Puts the standard library and the pages of `athanor explain` into the program, so that one file is enough on the bench and no
# command looks for a data folder. The library is parsed here, once, and not at each start of the program.
function(embed_library target)
    file(GLOB inputs CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/recipes/standard/*.ath ${CMAKE_SOURCE_DIR}/docs/diagnostics/*.md
         ${CMAKE_SOURCE_DIR}/docs/*.schema.json)
    set(output ${CMAKE_BINARY_DIR}/embedded.cpp)
    add_executable(athanor_embed ${CMAKE_SOURCE_DIR}/cmake/embed.cpp)
    target_link_libraries(athanor_embed PRIVATE athanor_grammar)
    add_custom_command(
        OUTPUT ${output}
        COMMAND athanor_embed ${output} ${CMAKE_SOURCE_DIR} ${inputs}
        DEPENDS athanor_embed ${inputs}
        COMMENT "Embedding the standard library")
    add_library(${target} STATIC ${output})
endfunction()
