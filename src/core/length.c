/* length: owns showing lengths as inch fractions. */
#include "core/length.h"

static size_t put_whole(uint64_t value, char *buf)
{
    char reversed[20];
    size_t n = 0;
    do {
        reversed[n++] = (char)('0' + value % 10);
        value /= 10;
    } while (value != 0);
    for (size_t i = 0; i < n; i++)
        buf[i] = reversed[n - 1 - i];
    return n;
}

enum err length_show_fraction(int64_t nm, int denominator, char *buf, size_t *ret_size,
                              bool *ret_rounded)
{
    if (denominator < 1 || denominator > 64 || (denominator & (denominator - 1)) != 0)
        return ERR_DOMAIN;
    uint64_t step = (uint64_t)LENGTH_64TH_NM * (uint64_t)(64 / denominator);
    uint64_t magnitude = nm < 0 ? -(uint64_t)nm : (uint64_t)nm;
    uint64_t parts = magnitude / step, rest = magnitude % step;
    if (2 * rest > step || (2 * rest == step && (parts & 1)))
        parts++;

    uint64_t whole = parts / (uint64_t)denominator, top = parts % (uint64_t)denominator;
    uint64_t bottom = (uint64_t)denominator;
    while (top != 0 && (top & 1) == 0) {
        top /= 2;
        bottom /= 2;
    }
    size_t size = 0;
    if (nm < 0 && parts != 0)
        buf[size++] = '-';
    if (whole != 0 || top == 0)
        size += put_whole(whole, buf + size);
    if (top != 0) {
        if (whole != 0)
            buf[size++] = ' ';
        size += put_whole(top, buf + size);
        buf[size++] = '/';
        size += put_whole(bottom, buf + size);
    }
    for (const char *unit = " in"; *unit != '\0'; unit++)
        buf[size++] = *unit;
    buf[size] = '\0';
    *ret_size = size;
    if (ret_rounded)
        *ret_rounded = rest != 0;
    return ERR_OK;
}
