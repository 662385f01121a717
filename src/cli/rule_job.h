/* rule_job: what the files of the verb `rule` share. */
#ifndef CLI_RULE_JOB_H
#define CLI_RULE_JOB_H

#include "cli/cli.h"
#include "desk/ruling.h"

enum { RULE_SAY_CHANGES = 20, RULE_SAY_MONEY = 64 };

/* money, with the currency: "1234.50 EUR". Its digits by the currency's code, 2 where that is not known. */
const char *rule_say_money(int64_t minor, const char *currency, char buf[RULE_SAY_MONEY]);
int rule_say_digits(const char *currency);

/* One that changed, kept until all are ruled. */
struct rule_change {
    char claim[STORE_CLAIM_SIZE + 1], from[8], to[8], vin[24];
    int64_t from_minor, to_minor;
};

/* What a run came to. Zero-initialised is empty. */
struct rule_tally {
    size_t n, n_unruled, n_new, n_changed, n_overruled;
    size_t n_verdict[4];
    int64_t minor[4];              /* what stands, or what it would be once cured, by verdict */
    size_t n_rule[RULE_N];         /* claims in which a rule spoke above a note */
    enum rule_level level[RULE_N]; /* the hardest it was */
    size_t n_due, n_back;          /* claims with money still to be paid, to be asked back */
    int64_t due_minor, back_minor;
    struct rule_change changes[RULE_SAY_CHANGES];
    size_t n_changes; /* kept */
    char currency[STORE_CURRENCY_ROOM];
    bool is_mixed; /* several currencies: no sums */
    bool is_trial;
};

/* What stands of a claim: the rules' word, or a person's over it. */
struct rule_standing {
    enum rule_verdict verdict;
    int64_t amount_minor;
};
struct rule_standing rule_standing_of(const struct ruling_seen *seen);

void rule_tally_add(struct rule_tally *t, const struct ruling_seen *seen);
int rule_tally_exit(const struct rule_tally *t);

void rule_say_summary(struct cli *ctx, const struct rule_tally *t);
void rule_say_claim(struct cli *ctx, const struct ruling_seen *seen);
void rule_say_log(struct cli *ctx, struct store *store, const char *claim);
void rule_say_unruled(struct cli *ctx, const char *claim);
void rule_say_rules(struct cli *ctx);

/* What settling came to. */
struct rule_paid {
    size_t n;
    int64_t minor;
    char currency[STORE_CURRENCY_ROOM];
    bool is_mixed;
};
/* As JSON where that is asked for. */
void rule_say_word(struct cli *ctx, const struct store_ruling *word);
void rule_say_payment(struct cli *ctx, struct rule_paid *sum, const char *claim,
                      int64_t amount_minor, const char *currency);
void rule_say_payments(struct cli *ctx, const struct rule_paid *sum);

void rule_json_word(struct cli *ctx, const struct store_ruling *word);
void rule_json_payment(struct cli *ctx, const char *claim, int64_t amount_minor,
                       const char *currency);
void rule_json_claim(struct cli *ctx, const struct ruling_seen *seen);
void rule_json_rules(struct cli *ctx);

#endif
