# Reliefs as targets of a build. find_package(Rakelight) includes this file.
#
#   rakelight_add_relief(NAME SCENE FILE
#       [OUT FOLDER]          where the pictures go; without: NAME in the current build folder
#       [SET KEY=VALUE...]    keys of the scene to change, as --set does
#       [FILES NAME]          what the files are called, as --files does
#       [OPTIONS WORD...]     more options of `rakelight render`
#       [DEPENDS FILE...]     what must be made before, such as a model that the build makes
#       [ALL])                build it with everything else
#
# The target NAME renders the scene when the scene file, the model or a file that the model refers
# to has changed, or the command. It has the properties RAKELIGHT_FOLDER, RAKELIGHT_MANIFEST and
# RAKELIGHT_STAMP: what depends on the pictures, depends on the target and on the manifest.

cmake_policy(PUSH)
cmake_policy(VERSION 3.20...3.25)

function(rakelight_add_relief name)
    cmake_parse_arguments(PARSE_ARGV 1 relief "ALL" "SCENE;OUT;FILES" "SET;OPTIONS;DEPENDS")
    if(relief_UNPARSED_ARGUMENTS)
        message(FATAL_ERROR "rakelight_add_relief(${name}): found ${relief_UNPARSED_ARGUMENTS}; "
            "expected SCENE, OUT, SET, FILES, OPTIONS, DEPENDS or ALL")
    endif()
    if(NOT relief_SCENE)
        message(FATAL_ERROR "rakelight_add_relief(${name}): no scene; expected SCENE FILE")
    endif()
    if(NOT relief_OUT)
        set(relief_OUT ${name})
    endif()
    if(NOT relief_FILES)
        set(relief_FILES "{pass}")
    endif()
    cmake_path(ABSOLUTE_PATH relief_SCENE BASE_DIRECTORY "${CMAKE_CURRENT_SOURCE_DIR}" NORMALIZE)
    cmake_path(ABSOLUTE_PATH relief_OUT BASE_DIRECTORY "${CMAKE_CURRENT_BINARY_DIR}" NORMALIZE)
    cmake_path(GET relief_SCENE STEM LAST_ONLY scene)
    string(REPLACE "{scene}" "${scene}" manifest "${relief_FILES}")
    string(REPLACE "{pass}" "manifest" manifest "${manifest}")
    set(manifest "${relief_OUT}/${manifest}.json")
    set(stamp "${CMAKE_CURRENT_BINARY_DIR}/${name}.stamp")
    list(TRANSFORM relief_SET PREPEND "--set;")
    # A stamp beside the manifest: pictures that stay the same keep their time, by which a Makefile
    # would render them again and again.
    add_custom_command(
        OUTPUT "${stamp}"
        BYPRODUCTS "${manifest}"
        COMMAND rakelight::rakelight render "${relief_SCENE}" --quiet --out "${relief_OUT}"
                --files "${relief_FILES}" ${relief_SET} ${relief_OPTIONS}
                --depfile "${stamp}.d" --stamp "${stamp}"
        DEPENDS "${relief_SCENE}" "$<TARGET_FILE:rakelight::rakelight>" ${relief_DEPENDS}
        DEPFILE "${stamp}.d"
        COMMENT "Rendering the relief ${name}"
        VERBATIM)
    set(all)
    if(relief_ALL)
        set(all ALL)
    endif()
    add_custom_target(${name} ${all} DEPENDS "${stamp}")
    set_target_properties(${name} PROPERTIES
        RAKELIGHT_FOLDER "${relief_OUT}" RAKELIGHT_MANIFEST "${manifest}" RAKELIGHT_STAMP "${stamp}")
endfunction()

cmake_policy(POP)
