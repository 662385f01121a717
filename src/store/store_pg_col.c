/* store_pg_col: owns the way of PostgreSQL's binary values out of a row. */
#include "store/store_pg.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Kinds by PostgreSQL's own numbers of its types (src/include/catalog/pg_type.dat; they never change). */
enum { OID_BOOL = 16, OID_BYTEA = 17, OID_INT8 = 20, OID_INT2 = 21, OID_INT4 = 23 };
enum { OID_FLOAT4 = 700, OID_FLOAT8 = 701, OID_NUMERIC = 1700 };

static struct pg_slot *slot_of(const struct db_use *u)
{
    return u->statement;
}

static uint64_t big_endian(const char *bytes, int n)
{
    uint64_t value = 0;
    for (int i = 0; i < n; i++)
        value = value << 8 | (unsigned char)bytes[i];
    return value;
}

/* The whole part of a numeric, as its binary form has it: numbers of digits, weight, sign, scale, then digits to the base 10000; sums are
 * such. Beyond 64 bits: the nearest there is. */
static int64_t numeric_int(const char *bytes, int n)
{
    enum { HEAD = 8, NEGATIVE = 0x4000, BASE = 10000 };
    int64_t value = 0;
    if (n < HEAD)
        return 0;
    const int n_digits = (int)big_endian(bytes, 2);
    const int weight = (int16_t)big_endian(bytes + 2, 2);
    const bool is_negative = big_endian(bytes + 4, 2) == NEGATIVE;
    for (int i = 0, at = HEAD; i <= weight; i++, at += 2) {
        const int digit = i < n_digits && at + 2 <= n ? (int)big_endian(bytes + at, 2) : 0;
        if (__builtin_mul_overflow(value, BASE, &value) ||
            __builtin_add_overflow(value, is_negative ? -digit : digit, &value))
            return is_negative ? INT64_MIN : INT64_MAX;
    }
    return value;
}

enum db_kind pg_kind(const struct db_use *u, int i)
{
    const struct pg_slot *s = slot_of(u);
    if (PQgetisnull(s->result, s->row, i) != 0)
        return DB_NULL;
    switch (PQftype(s->result, i)) {
    case OID_BOOL:
    case OID_INT2:
    case OID_INT4:
    case OID_INT8:
    case OID_NUMERIC:
        return DB_INT;
    case OID_FLOAT4:
    case OID_FLOAT8:
        return DB_REAL;
    case OID_BYTEA:
        return DB_BLOB;
    default:
        return DB_TEXT;
    }
}

int64_t pg_col_int(const struct db_use *u, int i)
{
    const struct pg_slot *s = slot_of(u);
    const int n = PQgetlength(s->result, s->row, i);
    const char *bytes = PQgetvalue(s->result, s->row, i);
    if (PQgetisnull(s->result, s->row, i) != 0)
        return 0;
    switch (PQftype(s->result, i)) {
    case OID_BOOL:
        return n > 0 && bytes[0] != 0;
    case OID_INT2:
        return (int16_t)big_endian(bytes, n);
    case OID_INT4:
        return (int32_t)big_endian(bytes, n);
    case OID_INT8:
        return (int64_t)big_endian(bytes, n);
    case OID_NUMERIC:
        return numeric_int(bytes, n);
    default:
        return strtoll(bytes, NULL, 10);
    }
}

double pg_col_real(const struct db_use *u, int i)
{
    const struct pg_slot *s = slot_of(u);
    double value = 0;
    if (PQgetisnull(s->result, s->row, i) != 0)
        return 0;
    if (PQftype(s->result, i) != OID_FLOAT8)
        return (double)pg_col_int(u, i);
    const uint64_t bits = big_endian(PQgetvalue(s->result, s->row, i), sizeof bits);
    memcpy(&value, &bits, sizeof value);
    return value;
}

/* A number in words, for messages. */
static const char *as_text(const struct db_use *u, int i, size_t *ret_n)
{
    struct pg_slot *s = slot_of(u);
    const int n = pg_kind(u, i) == DB_INT
                      ? snprintf(s->cell, sizeof s->cell, "%lld", (long long)pg_col_int(u, i))
                      : snprintf(s->cell, sizeof s->cell, "%.15g", pg_col_real(u, i));
    if (ret_n != NULL)
        *ret_n = n > 0 ? (size_t)n : 0;
    return s->cell;
}

const char *pg_col_text(const struct db_use *u, int i, size_t *ret_n)
{
    const struct pg_slot *s = slot_of(u);
    const enum db_kind kind = pg_kind(u, i);
    if (kind == DB_INT || kind == DB_REAL)
        return as_text(u, i, ret_n);
    if (ret_n != NULL)
        *ret_n = kind == DB_NULL ? 0 : (size_t)PQgetlength(s->result, s->row, i);
    return kind == DB_NULL ? "" : PQgetvalue(s->result, s->row, i); /* libpq ends it with a NUL */
}

const uint8_t *pg_col_blob(const struct db_use *u, int i, size_t *ret_n)
{
    const char *bytes = pg_col_text(u, i, ret_n);
    return *ret_n > 0 ? (const uint8_t *)bytes : NULL;
}

static const PGresult *columns_of(const struct pg_slot *s)
{
    return s->result != NULL ? s->result : s->shape;
}

int pg_cols(const struct db_use *u)
{
    const PGresult *r = columns_of(slot_of(u));
    struct db_use asked = *u;
    if (r == NULL) {
        pg_describe(&asked);
        r = columns_of(slot_of(u));
    }
    return r != NULL ? PQnfields(r) : 0;
}

const char *pg_col_name(const struct db_use *u, int i)
{
    const PGresult *r = columns_of(slot_of(u));
    const char *name = r != NULL ? PQfname(r, i) : NULL;
    return name != NULL ? name : "?";
}
