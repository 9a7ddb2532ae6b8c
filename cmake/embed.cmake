# Puts the standard library and the pages of `athanor explain` into the program as text,
# so that one file is enough on the bench and no command looks for a data folder.
function(embed_library target)
    file(GLOB standard CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/recipes/standard/*.ath)
    file(GLOB pages CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/docs/diagnostics/*.md)
    file(GLOB schemas CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/docs/*.schema.json)
    set(output ${CMAKE_BINARY_DIR}/embedded.cpp)
    set(inputs ${standard} ${pages} ${schemas})
    add_custom_command(
        OUTPUT ${output}
        COMMAND ${CMAKE_COMMAND} -DOUTPUT=${output} -DROOT=${CMAKE_SOURCE_DIR} -P ${CMAKE_SOURCE_DIR}/cmake/embed_files.cmake
        DEPENDS ${inputs} ${CMAKE_SOURCE_DIR}/cmake/embed_files.cmake
        COMMENT "Embedding the standard library")
    add_library(${target} STATIC ${output})
endfunction()
