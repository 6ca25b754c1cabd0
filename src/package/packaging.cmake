# The Debian package: `cmake --workflow --preset package`.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME rakelight)
set(CPACK_PACKAGE_VENDOR "Rakelight")
# Who packages says who answers for the package.
set(RAKELIGHT_MAINTAINER "The Rakelight developers <rakelight@rakelight.example>" CACHE STRING
    "Name and mail address of the package's maintainer")
set(CPACK_PACKAGE_CONTACT ${RAKELIGHT_MAINTAINER})
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
# Debian's policy: folders are 0755, whatever the umask of the build.
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS
    OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION graphics)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "source passes of a relief from a 3D model")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
"Renders depth, occlusion, curvature, silhouette and more of a 3D model as
aligned 16-bit pictures at the size of a medal, a tag or another blank, from
which a relief is mixed. It needs no display and no graphics card.")
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
include(CPack)

# What Debian's policy wants in the package's folder of documents.
set(changelog ${CMAKE_CURRENT_BINARY_DIR}/changelog.gz)
find_program(GZIP gzip)
find_program(DPKG_DEB dpkg-deb)
if(GZIP AND DPKG_DEB)
    file(WRITE ${CMAKE_CURRENT_BINARY_DIR}/changelog
        "rakelight (${PROJECT_VERSION}) stable; urgency=medium\n\n"
        "  * See changelog.md in the docs.\n\n"
        " -- ${CPACK_PACKAGE_CONTACT}  Wed, 25 Nov 2026 00:00:00 +0000\n")
    execute_process(COMMAND ${GZIP} -9 -n -k -f ${CMAKE_CURRENT_BINARY_DIR}/changelog
        COMMAND_ERROR_IS_FATAL ANY)
    file(WRITE ${CMAKE_CURRENT_BINARY_DIR}/copyright
        "Rakelight is under the MIT licence:\n\n")
    file(READ ${PROJECT_SOURCE_DIR}/LICENSE licence)
    file(APPEND ${CMAKE_CURRENT_BINARY_DIR}/copyright "${licence}")
    install(FILES ${changelog} ${CMAKE_CURRENT_BINARY_DIR}/copyright
        DESTINATION ${CMAKE_INSTALL_DOCDIR})
endif()
