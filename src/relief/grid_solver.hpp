#pragma once
// Heights from wanted differences between neighbouring pixels: a large sparse system on a grid.

#include "image/plane.hpp"

namespace rakelight {

/// What the heights u of a grid's pixels shall be, as the least of
///   sum over neighbours i, j   w_ij (u_j - u_i - g_ij)^2  +  sum over pixels   c_i (u_i - t_i)^2.
/// All planes have one size. A pixel whose weights are all 0 takes no part. Every group of pixels
/// that are joined by weights needs a pixel with c > 0; without one its height is left open.
struct WantedHeights {
    Plane across_weight;  ///< w, from (x, y) to (x + 1, y); >= 0, 0 in the last column
    Plane across;         ///< g of the same pair
    Plane down_weight;    ///< w, from (x, y) to (x, y + 1); >= 0, 0 in the last row
    Plane down;           ///< g of the same pair
    Plane hold;           ///< c, >= 0
    Plane held_to;        ///< t
};

struct SolveReport {
    int rounds = 0;
    double residual = 0.0;  ///< 2-norm of what is left, as a share of the right side's
};

/// Solves it by conjugate gradients, preconditioned by a multigrid cycle that joins pixels two by
/// two (Notay and Napov 2015, "A massively parallel solver for discrete Poisson-like problems", J.
/// Comput. Phys. 281, shows the kind). The result does not depend on the number of threads.
/// @param heights   the first guess, and the result; 0 where a pixel takes no part
/// @param residual  the wanted share, see SolveReport
/// @param rounds    at most
SolveReport solve_heights(const WantedHeights& wanted, Plane& heights, double residual = 1e-4,
                          int rounds = 60);

}  // namespace rakelight
