# Man pages as they are installed, in FOLDER/packed: packed by GZIP, without its own name or time, so
# that the same pages give the same bytes.
file(GLOB pages ${FOLDER}/man1/*.1)
if(NOT pages)
    message(FATAL_ERROR "found no man pages in ${FOLDER}/man1")
endif()
file(COPY ${pages} DESTINATION ${FOLDER}/packed)
if(GZIP)
    file(GLOB copies ${FOLDER}/packed/*.1)
    execute_process(COMMAND ${GZIP} -9 -n ${copies} COMMAND_ERROR_IS_FATAL ANY)
endif()
