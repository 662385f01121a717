/* practice_call: owns how a file of exercises is read for the command line; see practice_call.h. */
#include "cli/practice_call.h"

#include "base/file.h"
#include "practice/solve.h"

static int read_set(const char *path, bool with_proof, struct practice_file *ret)
{
    struct fault f = {0};
    uint8_t digest[DIGEST_SHA256_SIZE];
    *ret = (struct practice_file){.path = path};
    enum err e = file_read(path, EXERCISE_SIZE_MAX, &ret->source, &f);
    const char *bytes = ret->source.data != NULL ? ret->source.data : "";
    if (e == ERR_OK) {
        e = digest_bytes(DIGEST_SHA256, bytes, ret->source.size, digest);
        if (e != ERR_OK)
            fault_set(&f, e, "the digest could not be made");
    }
    if (e != ERR_OK) {
        fault_list_unreadable(&ret->faults, &f);
        return e == ERR_MEMORY || e == ERR_IO ? CLI_FAILED : CLI_WRONG;
    }
    digest_hex(digest, sizeof digest, ret->sha256);
    ret->set =
        (with_proof ? solve_load : exercise_set_load)(bytes, ret->source.size, path, &ret->faults);
    if (ret->faults.is_out_of_memory)
        return CLI_FAILED;
    if (ret->set != NULL)
        return CLI_GOOD;
    return ret->faults.is_unreadable ? CLI_WRONG : CLI_NO;
}

int practice_file_read(const char *path, struct practice_file *ret)
{
    return read_set(path, true, ret);
}

void practice_file_done(struct practice_file *file)
{
    exercise_set_free(file->set);
    fault_list_done(&file->faults);
    text_done(&file->source);
    *file = (struct practice_file){0};
}

static int whole(const struct cli *ctx, int code, const struct practice_file *file)
{
    if (code == CLI_GOOD)
        return code;
    if (file->faults.n_faults > 0)
        (void)cli_fault(ctx, &file->faults.faults[0]);
    return code == CLI_NO ? CLI_WRONG : code;
}

int practice_file_whole(const struct cli *ctx, const char *path, struct practice_file *ret)
{
    return whole(ctx, read_set(path, true, ret), ret);
}

int practice_file_form(const struct cli *ctx, const char *path, struct practice_file *ret)
{
    return whole(ctx, read_set(path, false, ret), ret);
}
