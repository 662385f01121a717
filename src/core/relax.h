/* relax: the linear relaxation that guides the truing search; floating point, and therefore never believed.
 *
 * minimise sum of cost x value over structural variables v[0..n_vars) with lo <= v <= hi, subject to
 * row_lo_i <= sum_k coef_ik v_k <= row_hi_i. Every variable and every row has finite bounds, so any basis becomes dual
 * feasible by putting each nonbasic variable at the bound its reduced cost asks for: the dual simplex method can start from
 * whatever basis the node before left behind, and no phase one exists. Ratio test with bound flipping.
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
    size_t n_rows, n_vars;   /* variables n_vars + i are the rows' own values */
    const double *coef;      /* [n_rows][n_vars], borrowed: the rows in the order and scale of the slack basis */
    double *tab;             /* [n_rows][n_vars]: basic variable i = sum over columns k of tab[i][k] x nonbasic k */
    double *reduced;         /* [n_vars] reduced cost of each nonbasic column */
    double *value;           /* [n_rows] values of the basic variables */
    double *lo, *hi, *cost;  /* [n_vars + n_rows]; the caller sets them, cost of rows stays 0 */
    int *basic;              /* [n_rows] which variable is basic in row i */
    int *nonbasic;           /* [n_vars] which variable stands in column k */
    unsigned char *at_upper; /* [n_vars + n_rows], for nonbasic ones */
    int *order;              /* [n_vars] scratch */
    double *ratio;           /* [n_vars] scratch */
    int n_pivots;            /* since the last fresh start */
};

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

/* relax_solve: from the present basis, with lo, hi, cost as set now.
 * ret_multiplier[n_rows]: y of L(v, s) = cost.v + sum y_i (row_i(v) - s_i); for RELAX_INFEASIBLE of the same without cost.
 * ret_x[n_vars]: values of the structural variables (not for RELAX_INFEASIBLE). */
enum relax_end relax_solve(struct relax *lp, double cutoff, double *ret_multiplier, double *ret_x);

#endif
