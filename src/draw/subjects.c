/* subjects: owns what the ten made-up photos show. Nothing here is drawn after a real product: columns, boxes, racks and bolts as
 * anybody would sketch them. Sizes, colours and numbers of things vary by the seed. */
#include "draw/scene.h"

#include <math.h>
#include <stdio.h>

enum {
    STEEL = 0xa9adb0,
    ALLOY = 0xc4c6c4,
    DARK_STEEL = 0x5d6266,
    RUBBER = 0x2c2d2f,
    PAPER = 0xf4f1e6,
    SOIL = 0x857a68
};

static uint32_t one_of(struct scene *s, const uint32_t *colours, size_t n)
{
    return scene_tone(s, colours[scene_next(s) % n], 0.12);
}

static uint32_t paint(struct scene *s)
{
    static const uint32_t colours[] = {0xb9bdb8, 0xd8d5c8, 0x7d8b93, 0x98876a,
                                       0x6f7f68, 0xa86f4e, 0x4f5b66, 0xc9b27c};
    return one_of(s, colours, sizeof colours / sizeof *colours);
}

static void screw(struct scene *s, double x, double y, double radius)
{
    const double turn = scene_within(s, 0, 3.14), dx = radius * 0.7 * cos(turn),
                 dy = radius * 0.7 * sin(turn);
    scene_disc(s, 0x4a4c4d, x + 2, y + 3, radius * 1.1);
    scene_disc(s, scene_tone(s, STEEL, 0.2), x, y, radius);
    scene_bar(s, 0x35383a, radius * 0.25, x - dx, y - dy, x + dx, y + dy);
}

static void hexagon(struct scene *s, uint32_t colour, double x, double y, double radius,
                    double turn)
{
    struct spot spots[6];
    for (int i = 0; i < 6; i++)
        spots[i] = (struct spot){x + radius * cos(turn + i * 1.0471975512),
                                 y + radius * sin(turn + i * 1.0471975512)};
    scene_poly(s, colour, spots, 6);
}

/* A column's face with its grooves, upright through the whole scene. */
static void column(struct scene *s, double x, double width, uint32_t colour)
{
    scene_box(s, 0x2b2c2c, x + width, -1500, 30, 3000);
    scene_box(s, colour, x, -1500, width, 3000);
    for (int i = 0; i < 4; i++) {
        const double at = x + width * (i < 2 ? 0.04 + 0.05 * i : 0.86 + 0.05 * (i - 2));
        scene_box(s, scene_tone(s, 0x6e7173, 0.2), at, -1500, 10, 3000);
        scene_box(s, 0xe5e6e2, at + 11, -1500, 4, 3000);
    }
}

static void label(struct scene *s, const char *text, const char *code)
{
    static const uint32_t papers[] = {0xf6f4ec, 0xf1e9c6, 0xdfe3e2, 0xf3e2a0};
    const bool is_code_left = scene_chance(s, 0.5), is_high = scene_chance(s, 0.4);
    const double half_width = is_high ? 250 : 400, half_height = is_high ? 400 : 235;
    scene_pose(s, half_width, half_height);
    const double wide = scene_within(s, 1.05, 1.6);
    column(s, -half_width * wide, half_width * wide * 2, scene_tone(s, ALLOY, 0.3));
    const uint32_t paper = papers[scene_next(s) % 4];
    scene_box(s, 0x55585a, -half_width + 5, -half_height + 7, 2 * half_width, 2 * half_height);
    scene_box(s, paper, -half_width, -half_height, 2 * half_width, 2 * half_height);
    const uint32_t band = paint(s);
    scene_box(s, band, -half_width + 14, -half_height + 14, 2 * half_width - 28, 50);
    const double side =
        2 * half_width > 2 * half_height ? 2 * half_height - 95 : 2 * half_width - 60;
    double text_x = -half_width + 26, text_y = -half_height + 130, text_width = 2 * half_width - 52;
    double code_x = -side / 2, code_y = half_height - side - 20;
    if (!is_high) {
        code_x = is_code_left ? -half_width + 20 : half_width - side - 20;
        text_x = is_code_left ? code_x + side + 20 : -half_width + 26;
        text_width = 2 * half_width - side - 66;
    }
    if (code != NULL)
        scene_code(s, code_x, code_y, side, code);
    if (text != NULL)
        scene_text(s, 0x17191a, text_x, text_y, text_width, is_high ? 58 : 62, true, text);
    const double ruled = is_high ? text_y + 110 : half_height - 60;
    for (int i = 0; i < 2 && !is_high; i++)
        scene_box(s, 0x8b8c88, text_x, ruled + 20 * i, text_width * scene_within(s, 0.4, 1), 6);
    for (int i = 0; i < 4; i++)
        if (scene_chance(s, 0.6))
            screw(s, (i % 2 ? 1 : -1) * half_width * wide * 0.86,
                  (i / 2 ? 1 : -1) * (half_height + 70), 24);
}

static void plate(struct scene *s, const char *text, const char *code)
{
    const double half_width = 420, half_height = scene_within(s, 245, 285);
    const bool is_code_left = scene_chance(s, 0.5);
    scene_pose(s, half_width, half_height);
    scene_box(s, paint(s), -1500, scene_within(s, -900, -half_height - 60), 3000, 2000);
    scene_box(s, 0x303234, -half_width + 6, -half_height + 9, 2 * half_width, 2 * half_height);
    scene_box(s, scene_tone(s, 0xc2c4c1, 0.14), -half_width, -half_height, 2 * half_width,
              2 * half_height);
    for (int i = 0; i < 60; i++) /* brushed */
        scene_bar(s, scene_tone(s, 0xbfc1be, 0.1), 2, -half_width,
                  scene_within(s, -half_height, half_height), half_width,
                  scene_within(s, -half_height, half_height));
    const double side = 410, code_x = is_code_left ? -half_width + 46 : half_width - side - 46;
    if (code != NULL)
        scene_code(s, code_x, -side / 2, side, code);
    const double text_x = is_code_left ? code_x + side + 24 : -half_width + 50,
                 text_width = 2 * half_width - side - 116;
    scene_text(s, 0x24272a, text_x, -half_height + 70, text_width, 40, true, "UNIT PLATE");
    if (text != NULL)
        scene_text(s, 0x101214, text_x, -half_height + 160, text_width, 60, true, text);
    scene_text(s, 0x3a3d40, text_x, half_height - 70, text_width, 30, false,
               "INVENTED FOR PRACTICE");
    for (int i = 0; i < 4; i++)
        screw(s, (i % 2 ? 1 : -1) * (half_width - 24), (i / 2 ? 1 : -1) * (half_height - 24), 16);
}

/* The room as a box that stands out of the wall: front, one side, underside. */
static void room_box(struct scene *s, double x, double y, double width, double height, double deep)
{
    const uint32_t front = paint(s);
    const struct spot side[] = {{x + width, y},
                                {x + width + deep, y - deep * 0.35},
                                {x + width + deep, y + height - deep * 0.5},
                                {x + width, y + height}};
    const struct spot roof[] = {
        {x, y}, {x + deep, y - deep * 0.35}, {x + width + deep, y - deep * 0.35}, {x + width, y}};
    const struct spot shadow[] = {{x, y + height},
                                  {x + width, y + height},
                                  {x + width + deep, y + height - deep * 0.5},
                                  {x + deep, y + height + 60}};
    scene_shade(s, 0.5, shadow, 4);
    scene_poly(s, scene_tone(s, 0x8d9090, 0.3), side, 4);
    scene_poly(s, scene_tone(s, 0xdadbd6, 0.1), roof, 4);
    scene_box(s, front, x, y, width, height);
    scene_box(s, RUBBER, x, y, 14, height);
    scene_box(s, RUBBER, x + width - 14, y, 14, height);
    const double glass_x = x + width * scene_within(s, 0.12, 0.45),
                 glass_width = width * scene_within(s, 0.25, 0.45);
    scene_box(s, 0xe8e7e0, glass_x - 12, y + height * 0.14, glass_width + 24, height * 0.4);
    scene_box(s, scene_tone(s, 0x33424c, 0.35), glass_x, y + height * 0.17, glass_width,
              height * 0.34);
}

static void wall(struct scene *s, double ground)
{
    scene_box(s, scene_tone(s, 0xaebfcb, 0.3), -2500, -2500, 5000, 2500 + ground); /* sky */
    scene_box(s, scene_tone(s, SOIL, 0.35), -2500, ground, 5000, 2500);
    const double left = scene_within(s, -900, -520), right = scene_within(s, 520, 900);
    scene_box(s, paint(s), left, scene_within(s, -480, -360), right - left, ground + 330);
    for (int i = 0; i < 3; i++) {
        const double x = scene_within(s, left, right);
        scene_disc(s, 0x26272a, x, ground - 10, 85);
        scene_disc(s, STEEL, x, ground - 10, 40);
    }
    for (int i = 0; i < 4; i++)
        scene_bar(s, paint(s), scene_within(s, 10, 50), left, scene_within(s, -400, 300), right,
                  scene_within(s, -400, 300));
}

static void room(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 420, 380);
    wall(s, scene_within(s, 260, 360));
    const double x = scene_within(s, -420, -240), y = scene_within(s, -330, -220),
                 width = scene_within(s, 420, 600);
    const double height = scene_within(s, 330, 430);
    room_box(s, x, y, width, height, scene_within(s, 80, 190));
    const int n = 2 + (int)(scene_next(s) % 3);
    for (int i = 0; i < n; i++) { /* stands: a screw post on three legs */
        const double at = x + width * (0.1 + 0.8 * i / (n - 1)) + scene_within(s, -20, 20),
                     top = y + height, foot = 370;
        scene_bar(s, 0x3d4043, 20, at, top, at, foot - 60);
        scene_bar(s, scene_tone(s, 0xa33a2a, 0.3), 16, at, top + 50, at - 60, foot);
        scene_bar(s, scene_tone(s, 0xa33a2a, 0.3), 16, at, top + 50, at + 60, foot);
        scene_box(s, DARK_STEEL, at - 42, top, 84, 16);
    }
    for (int i = 0; i < 2; i++) { /* straps */
        const double at = x + width * scene_within(s, i ? 0.6 : 0.1, i ? 0.9 : 0.4);
        scene_bar(s, scene_tone(s, 0xd39a28, 0.25), 22, at, y - 20, at + scene_within(s, -30, 30),
                  y + height + 20);
        scene_box(s, STEEL, at - 22, y + height * 0.62, 44, 34);
    }
    scene_card(s, -400, 180, 340, 190, text, code);
}

/* Stripes and panels of other paint, so that one wall is not like the next. */
static void stripes(struct scene *s, int n)
{
    for (int i = 0; i < n; i++) {
        const double x = scene_within(s, -800, 800), y = scene_within(s, -600, 600);
        const double turn = scene_within(s, 0, 3.14), half = scene_within(s, 200, 1200);
        scene_bar(s, scene_tone(s, paint(s), 0.35), scene_within(s, 40, 260), x - half * cos(turn),
                  y - half * sin(turn), x + half * cos(turn), y + half * sin(turn));
    }
}

static void lock_and_tag(struct scene *s, double x, double y)
{
    scene_ring(s, STEEL, 20, x, y - 70, 52);
    scene_box(s, paint(s), x - 75, y - 40, 150, 130);
    scene_disc(s, 0x1d1e20, x, y + 20, 16);
    scene_bar(s, 0xe8e4d8, 6, x + 40, y - 80, x + 130, y + 60);
    const struct spot tag[] = {{x + 100, y + 60},
                               {x + 160, y + 30},
                               {x + 290, y + 150},
                               {x + 200, y + 270},
                               {x + 80, y + 150}};
    scene_poly(s, scene_tone(s, 0xe9d9a0, 0.1), tag, 5);
    scene_disc(s, 0x333333, x + 128, y + 74, 12);
    for (int i = 0; i < 3; i++)
        scene_bar(s, 0x4c4a44, 7, x + 128 + 22 * i, y + 150 + 22 * i, x + 190 + 12 * i,
                  y + 108 + 22 * i);
}

static void isolated(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 430, 340);
    stripes(s, 5);
    scene_box(s, scene_tone(s, 0x3c4146, 0.3), -430, -300, 860, 600);
    const double x = scene_within(s, -260, -120), y = scene_within(s, -120, 60),
                 radius = scene_within(s, 120, 165);
    const double turn = scene_within(s, -0.5, 2.2);
    scene_disc(s, 0x17181a, x + 8, y + 10, radius);
    scene_disc(s, scene_tone(s, 0xb03020, 0.25), x, y, radius);
    scene_ring(s, 0xe9e6dd, 8, x, y, radius * 0.86);
    scene_bar(s, scene_tone(s, 0x7c1d14, 0.2), radius * 0.5, x - radius * 0.8 * cos(turn),
              y - radius * 0.8 * sin(turn), x + radius * 1.2 * cos(turn),
              y + radius * 1.2 * sin(turn));
    scene_text(s, 0xf0ede4, x - 70, y + radius + 60, 150, 48, true, "OFF");
    lock_and_tag(s, x + radius * 1.2 * cos(turn) + 20, y + radius * 1.2 * sin(turn) + 40);
    const double fuse_x = scene_within(s, 110, 250), fuse_y = scene_within(s, -250, -120);
    scene_box(s, 0x202326, fuse_x - 20, fuse_y, 190, 110);
    for (int i = 0; i < 2; i++)
        scene_box(s, 0xc98a3e, fuse_x + 10 + 100 * i, fuse_y + 30, 40, 50);
    scene_box(s, scene_tone(s, 0xd8a21f, 0.3), fuse_x + scene_within(s, -60, 60), fuse_y + 150, 110,
              44); /* the fuse, pulled */
    for (int i = 0; i < 3; i++)
        scene_bar(s, scene_tone(s, i % 2 ? 0x1b1c1e : 0xa1281e, 0.3), 26,
                  x + scene_within(s, -60, 60), y, scene_within(s, -600, 700),
                  scene_within(s, -900, -500));
    scene_card(s, 70, 120, 340, 190, text, code);
}

/* A tape from x along, with figures at every tenth tick. */
static void tape(struct scene *s, double x, double y, double width, double wide)
{
    const int first = (int)(scene_next(s) % 80);
    scene_box(s, 0x4d4a40, x, y + 5, width, wide);
    scene_box(s, scene_tone(s, 0xe6c935, 0.18), x, y, width, wide);
    for (int i = 0; i * 9 < width; i++) {
        const double at = x + i * 9;
        const double tick = wide * (i % 10 == 0 ? 0.65 : i % 5 == 0 ? 0.45 : 0.28);
        scene_box(s, 0x1f1d17, at, y, 2.4, tick);
        if (i % 10 == 0) {
            char figure[12];
            snprintf(figure, sizeof figure, "%d", first + i / 10);
            scene_text(s, i / 10 % 10 == 0 ? 0xa3241a : 0x1f1d17, at + 5, y + wide * 0.92, 60,
                       wide * 0.42, true, figure);
        }
    }
}

static void bench(struct scene *s)
{
    static const uint32_t tops[] = {0x9b7d58, 0x77797a, 0x4f6270, 0xb5ab97, 0x5a4a3a};
    const uint32_t top = one_of(s, tops, 5);
    scene_box(s, top, -2500, -2500, 5000, 5000);
    double at = -2000;
    for (int i = 0; i < 14; i++) {
        const double width = scene_within(s, 60, 420);
        scene_box(s, scene_tone(s, top, 0.3), -2500, at, 5000, width);
        at += width;
    }
    for (int i = 0; i < 5; i++) {
        const double x = scene_within(s, -700, 700), y = scene_within(s, -520, 520),
                     radius = scene_within(s, 40, 220);
        scene_disc(s, scene_tone(s, top, 0.55), x, y, radius); /* stains, cups, cloths */
    }
}

static void racks(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 380, 240);
    bench(s);
    const int n = 2 + (int)(scene_next(s) % 2);
    double y = scene_within(s, -300, -210);
    for (int i = 0; i < n; i++) {
        const double x = scene_within(s, -620, -420), width = scene_within(s, 850, 1200),
                     high = scene_within(s, 70, 120);
        scene_box(s, 0x2d2a25, x + 6, y + 14, width, high);
        scene_rack(s, scene_tone(s, STEEL, 0.35), x, y, width, high, scene_within(s, 34, 48),
                   scene_within(s, 0, 30));
        scene_box(s, 0xd9dbd8, x, y + high * 0.55, width, 5);
        y += high + scene_within(s, 12, 60);
        if (i == 0 || scene_chance(s, 0.3)) {
            const double wide = scene_within(s, 70, 95);
            tape(s, scene_within(s, -640, -460), y, scene_within(s, 900, 1300), wide);
            y += wide + scene_within(s, 12, 50);
        }
    }
    scene_card(s, -340, 190, 340, 180, text, code);
}

static void cut_ends(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 330, 260);
    bench(s);
    const int n = 2 + (int)(scene_next(s) % 2);
    for (int i = 0; i < n; i++) {
        const double y = -250 + 190 * i + scene_within(s, -30, 30), x = scene_within(s, -250, 80),
                     high = scene_within(s, 110, 150);
        const bool is_left = scene_chance(s, 0.5);
        const double deep = is_left ? -60 : 60, start = is_left ? x : x - 900, end = x;
        scene_box(s, 0x24211d, start, y + 20, 900, high);
        scene_rack(s, scene_tone(s, STEEL, 0.4), start, y, 900, high, scene_within(s, 46, 62),
                   scene_within(s, 0, 40));
        const struct spot face[] = {
            {end, y + 34}, {end + deep, y + 12}, {end + deep, y + high - 24}, {end, y + high}};
        scene_poly(s, scene_tone(s, 0xe6e8e6, 0.08), face, 4); /* bright: just cut */
        for (int k = 0; k < 6; k++)
            scene_bar(s, 0xa2a5a4, 2.5, end, y + 40 + k * (high - 50) / 6, end + deep,
                      y + 22 + k * (high - 50) / 6);
    }
    for (int i = 0; i < 40; i++) { /* filings */
        const double x = scene_within(s, -300, 350), y = scene_within(s, -350, 400);
        scene_bar(s, scene_tone(s, 0xcfd2d0, 0.2), 5, x, y, x + scene_within(s, -14, 14),
                  y + scene_within(s, -14, 14));
    }
    scene_bar(s, scene_tone(s, 0x6b3a26, 0.3), 60, scene_within(s, -600, -100), 420,
              scene_within(s, 200, 700), scene_within(s, 300, 420));
    scene_card(s, -300, 200, 340, 180, text, code);
}

static void rack_ends(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 380, 300);
    const double wide = scene_within(s, 420, 900);
    column(s, -wide / 2 + scene_within(s, -120, 120), wide, scene_tone(s, 0x8f9291, 0.5));
    for (int i = 0; i < 2; i++) { /* one above the other, both towards the stop */
        const double y = -240 + 330 * i + scene_within(s, -30, 30), x = scene_within(s, -60, 120);
        scene_rack(s, scene_tone(s, STEEL, 0.3), x - 1200, y, 1200, 100, 44,
                   scene_within(s, 0, 40));
        scene_box(s, 0xe2e4e1, x - 8, y + 30, 8, 70);
        const double pinion_x = x - scene_within(s, 150, 330);
        for (int k = 0; k < 12; k++)
            hexagon(s, scene_tone(s, DARK_STEEL, 0.15), pinion_x + 82 * cos(k * 0.5236),
                    y - 84 + 82 * sin(k * 0.5236), 22, k * 0.5236);
        scene_disc(s, scene_tone(s, DARK_STEEL, 0.2), pinion_x, y - 84, 82);
        scene_disc(s, 0x25282a, pinion_x, y - 84, 26);
    }
    const double stop = scene_within(s, 160, 240), y = scene_within(s, -60, 20);
    scene_box(s, scene_tone(s, 0x333739, 0.3), stop, -900, 70, 1800);
    scene_box(s, 0x1c1e20, stop - 116, y - 100, 26, 210); /* the gauge: beam, rod, scale */
    scene_bar(s, scene_tone(s, 0xd0d3d1, 0.1), 34, stop - 420, y, stop, y);
    for (int i = 0; i < 26; i++)
        scene_box(s, 0x1c1e20, stop - 410 + 11 * i, y - 14, 2.6, i % 5 == 0 ? 22 : 12);
    scene_box(s, scene_tone(s, 0xbfc4c3, 0.1), stop - 190, y - 34, 90, 70);
    scene_card(s, -370, 130, 340, 180, text, code);
}

static void fixings(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 360, 280);
    stripes(s, 3);
    const double wide = scene_within(s, 560, 900), high = scene_within(s, 420, 640);
    scene_box(s, 0x1d1f21, -wide / 2 + 8, -high / 2 + 12, wide, high);
    scene_box(s, scene_tone(s, STEEL, 0.35), -wide / 2, -high / 2, wide, high);
    for (int i = 0; i < 3; i++) /* seams and patches of the plate */
        scene_box(s, scene_tone(s, STEEL, 0.55), scene_within(s, -wide / 2, wide / 4), -high / 2,
                  scene_within(s, 30, wide / 4), high * scene_within(s, 0.3, 1));
    const uint32_t mark = scene_chance(s, 0.5) ? 0xf1c21b : 0xf0efe8;
    const int columns = 2 + (int)(scene_next(s) % 2), rows = 2 + (int)(scene_next(s) % 2);
    const double slope = scene_within(s, -0.2, 0.2), radius = scene_within(s, 44, 70);
    for (int i = 0; i < columns * rows; i++) {
        const int row = i / columns;
        const double x =
            (-0.5 + (i % columns + 0.5) / columns) * wide * 0.94 + scene_within(s, -18, 18);
        const double y =
            (-0.5 + (row + 0.5) / rows) * high * 0.9 + slope * x + scene_within(s, -18, 18);
        const double turn = scene_within(s, 0, 1.05);
        scene_disc(s, 0x2a2d2f, x + 6, y + 8, radius * 1.35);
        scene_disc(s, scene_tone(s, 0xb9bcbb, 0.15), x, y, radius * 1.35);
        hexagon(s, 0x3f4346, x, y, radius * 1.06, turn);
        hexagon(s, scene_tone(s, 0x8f9496, 0.25), x, y - 3, radius, turn);
        scene_ring(s, 0x6b7073, 3, x, y - 3, radius * 0.6);
        scene_bar(s, scene_tone(s, mark, 0.08), radius * 0.3, x, y, x + radius * 1.9 * cos(turn),
                  y + radius * 1.9 * sin(turn));
    }
    scene_card(s, -340, 120, 340, 180, text, code);
}

static void seal(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 380, 300);
    scene_box(s, paint(s), -2500, -2500, 5000, 5000);
    scene_box(s, paint(s), scene_within(s, -300, 200), -2500, 3000, 5000);
    stripes(s, 4);
    const double bow = scene_within(s, -160, 160), x = scene_within(s, -220, 200),
                 width = scene_within(s, 70, 130);
    const double corner = scene_within(s, 120, 330);
    struct spot before = {x + bow, -1200};
    for (int i = 1; i <= 30; i++) { /* down the side, then along the foot */
        const double t = i / 30.0;
        const struct spot at = t < 0.6
                                   ? (struct spot){x + bow * (1 - t / 0.6) * (1 - t / 0.6),
                                                   -1200 + (1200 + corner) * t / 0.6}
                                   : (struct spot){x + (t - 0.6) * 3200, corner + (t - 0.6) * bow};
        scene_bar(s, RUBBER, width, before.x, before.y, at.x, at.y);
        scene_disc(s, RUBBER, at.x, at.y, width / 2);
        before = at;
    }
    scene_bar(s, 0x6d7072, 12, x + bow * 0.2 - width * 0.2, -1000, x - width * 0.2, corner);
    scene_bar(s, 0x3f4143, 26, x - width * 0.62, -1000, x - width * 0.62, corner + width * 0.6);
    scene_bar(s, 0x5d6062, 10, x, corner - width * 0.2, x + 1200, corner - width * 0.2);
    for (int i = 0; i < 40; i++) { /* drops: it was hosed */
        const double drop_x = scene_within(s, -650, 650), drop_y = scene_within(s, -500, 500),
                     radius = scene_within(s, 3, 11);
        scene_disc(s, 0x707a80, drop_x + 1, drop_y + 2, radius);
        scene_disc(s, 0xe4edf0, drop_x - radius * 0.2, drop_y - radius * 0.2, radius * 0.6);
    }
    scene_card(s, -370, 120, 340, 180, text, code);
}

static void finished(struct scene *s, const char *text, const char *code)
{
    scene_pose(s, 420, 380);
    const double ground = scene_within(s, 230, 360);
    wall(s, ground);
    const double x = scene_within(s, -500, -180), y = scene_within(s, -350, -200),
                 width = scene_within(s, 420, 680);
    const double height = scene_within(s, 330, 460);
    room_box(s, x, y, width, height, scene_within(s, 60, 200));
    const double door =
        scene_chance(s, 0.5) ? scene_within(s, -780, -600) : scene_within(s, 360, 560);
    scene_box(s, paint(s), door, -250, 190, 520);
    scene_box(s, 0x2e3236, door + 140, 10, 22, 60);
    for (int i = 0; i < 3; i++)
        scene_box(s, scene_tone(s, DARK_STEEL, 0.3), door - 20 - 14 * i, ground - 60 + 40 * i,
                  230 + 28 * i, 24);
    scene_card(s, -400, 180, 340, 190, text, code);
}

void scene_subject(struct scene *s, enum picture_subject subject, const char *text,
                   const char *code)
{
    static void (*const subjects[PICTURE_SUBJECT_N])(struct scene *, const char *, const char *) = {
        [PICTURE_LABEL] = label,         [PICTURE_PLATE] = plate,     [PICTURE_ROOM] = room,
        [PICTURE_SWITCH] = isolated,     [PICTURE_RACKS] = racks,     [PICTURE_CUT_ENDS] = cut_ends,
        [PICTURE_RACK_ENDS] = rack_ends, [PICTURE_FIXINGS] = fixings, [PICTURE_SEAL] = seal,
        [PICTURE_FINISHED] = finished,
    };
    subjects[subject](s, text, code);
}
