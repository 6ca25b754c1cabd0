#pragma once
// Arrays that are large and written in full: new elements are left unset instead of zeroed.

#include <memory>
#include <utility>
#include <vector>

namespace rakelight {

template <class T>
struct UnsetElements : std::allocator<T> {
    template <class U>
    struct rebind {
        using other = UnsetElements<U>;
    };
    template <class U>
    void construct(U* where) noexcept {
        ::new (static_cast<void*>(where)) U;
    }
    template <class U, class... Arguments>
    void construct(U* where, Arguments&&... arguments) {
        ::new (static_cast<void*>(where)) U(std::forward<Arguments>(arguments)...);
    }
};

/// A vector whose resize does not write; read nothing from it before you wrote it.
template <class T>
using UnsetVector = std::vector<T, UnsetElements<T>>;

}  // namespace rakelight
