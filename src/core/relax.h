/* relax: the linear relaxation that guides the truing search; floating point, and therefore never believed.
 *
 * minimise sum_j cost_j(v_j) over variables lo_j <= v_j <= hi_j, subject to row_lo_i <= sum_j coef_ij v_j <= row_hi_i, where
 * cost_j(v) is up_j v for v >= 0 and down_j (-v) for v <= 0, up_j + down_j >= 0: convex with a kink at 0. Every variable and every
 * row has finite bounds, so any basis becomes dual feasible by putting each nonbasic variable at the end or kink its reduced cost
 * asks for: the dual simplex method can start from whatever basis the node before left behind, and no phase one exists. The
 * ratio test walks past ends and kinks (bound flipping); a basic variable that leaves its side of the kink may cross over.
 *
 * What comes out are multipliers, one a row. Whoever wants to conclude something from them rounds them to integers and works
 * out the Lagrangian bound exactly (search.c): any multipliers give a valid bound, good ones a sharp one. A basis that has
 * drifted, a stalled iteration or an odd answer can therefore cost time but never truth.
 *
 * Only + - * / and comparisons on IEEE doubles: the same path natively and in WebAssembly.
 * Sources: dual simplex for boxed variables and the bound-flipping ratio test, as in Koberstein, The Dual Simplex Method,
 * 2005, chapters 3 and 6 (from memory); safe bounds from approximate multipliers: Neumaier and Shcherbina, Math. Program. 99
 * (2004) 283-296 (from memory). */
#ifndef CORE_RELAX_H
#define CORE_RELAX_H

#include <stdbool.h>
#include <stddef.h>

struct relax {
    size_t n_rows, n_vars; /* variables n_vars + i are the rows' own values; they cost nothing */
    const double
        *coef; /* [n_rows][n_vars], borrowed: the rows in the order and scale of the slack basis */
    struct relax_var {
        double lo, hi;   /* the caller's to set */
        double up, down; /* the caller's to set for the first n_vars; of the rows 0 */
        /* private */
        double slope_down, slope_up; /* of the cost on each side; the same on both without a kink */
        bool has_kink;
        unsigned char
            at; /* nonbasic: AT_LO, AT_KINK, AT_HI; basic: the side it is on, SIDE_DOWN or SIDE_UP */
    } * var;    /* [n_vars + n_rows] */

    /* private */
    double *
        tab; /* [n_rows][n_vars]: basic variable i = sum over columns k of tab[i][k] x nonbasic k */
    double *
        price; /* [n_vars] of a nonbasic column: sum over basic i of slope_i tab[i][k], its own cost left out */
    double *value; /* [n_rows] of the basic variables */
    int *basic;    /* [n_rows] which variable is basic in row i */
    int *nonbasic; /* [n_vars] which variable stands in column k */
    struct relax_way {
        double ratio, size, length;
        int column; /* ITSELF: the leaving variable crosses its kink */
    } * way;        /* [2 n_vars + 1] scratch */
    int n_pivots;   /* since the last fresh start */
};

#define RELAX_NO_CUTOFF 1e300

enum relax_end {
    RELAX_OPTIMAL,    /* multipliers of the least cost; x is a solution of the relaxation */
    RELAX_CUTOFF,     /* the bound has passed the cut-off; multipliers as they stand */
    RELAX_INFEASIBLE, /* multipliers whose bound at cost 0 is positive, if all is well */
    RELAX_STUCK       /* iteration limit; multipliers as they stand, x may break rows */
};

/* relax_size: bytes relax_init takes from memory (aligned for double). */
size_t relax_size(size_t n_rows, size_t n_vars);

/* relax_init: lays the arrays into memory and starts from the slack basis; coef is borrowed for the struct's life. */
void relax_init(struct relax *lp, size_t n_rows, size_t n_vars, const double *coef, void *memory);

/* relax_solve: from the present basis, with lo, hi, up, down as set now.
 * ret_multiplier[n_rows]: y of L(v, s) = cost(v) + sum y_i (row_i(v) - s_i); for RELAX_INFEASIBLE of the same without cost.
 * ret_x[n_vars]: values of the structural variables (not for RELAX_INFEASIBLE). */
enum relax_end relax_solve(struct relax *lp, double cutoff, double *ret_multiplier, double *ret_x);

/* A basis put aside and taken up again, for going back to a node: relax_saved_size bytes of the caller's, aligned for double. */
size_t relax_saved_size(size_t n_rows, size_t n_vars);
void relax_save(const struct relax *lp, void *memory);
void relax_load(struct relax *lp, const void *memory);

#endif
