// Feeds the recording reader with a recording that was damaged at random, each time
// in a process of its own, as swathe-eye is: built with the sanitizers of the
// compiler by cmd/hostile.sh. Usage: hostile FILE SEED TIMES SCRATCH
//
// A sanitizer's complaint, a fall, more than 30 s of processor time or more than 600 MB fail the
// whole. Where a library's own assertion ends the process, as it may, swathe-eye
// would end and the recording be told as one that could not be read: these are
// counted.
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "../reader.h"

static uint64_t state;
static uint64_t next_random(uint64_t below) {
	state ^= state << 13;
	state ^= state >> 7;
	state ^= state << 17;
	return below ? state % below : 0;
}

static size_t damage(uint8_t *b, size_t n, int how) {
	size_t at = next_random(n), len = 1 + next_random(4096);
	if (at + len > n) len = n - at;
	switch (how) {
	case 0: // single bytes anywhere
		for (int i = (int)next_random(64); i >= 0; i--) b[next_random(n)] = (uint8_t)next_random(256);
		break;
	case 1: // single bits at the front or the end, where the tables are
		for (int i = (int)next_random(32); i >= 0; i--) {
			size_t k = next_random(n < 8192 ? n : 8192);
			b[next_random(2) ? k : n - 1 - k] ^= (uint8_t)(1u << next_random(8));
		}
		break;
	case 2: return 1 + next_random(n); // cut short
	case 3: memset(b + at, next_random(2) ? 0 : 0xff, len); break;
	case 4: memmove(b + next_random(n - len + 1), b + at, len); break;
	}
	return n;
}

typedef struct {
	int opened, ended;
	long frames;
} tally;

static void read_all(const char *name, tally *sum) {
	char err[256];
	sw_reader *r = NULL;
	if (sw_open(name, 1 + (int)next_random(2), (int)next_random(2), &r, err, sizeof err) < 0 || !r) return;
	sum->opened++;
	sw_info info;
	sw_get_info(r, &info);
	int halve = (int)next_random(3), got = 0;
	if (next_random(3) == 0) sw_thin(r, 1 / 30.0, 0.1);
	sw_frame fr;
	for (int k = 0; k < 400 && (got = sw_next(r, &fr)) == 1; k++) {
		sum->frames++;
		sw_plane p[3];
		if (sw_planes(r, &fr, halve, p) >= 0) {
			volatile unsigned seen = 0; // every row that is promised is there
			for (int c = 0; c < 3; c++)
				if (p[c].pix)
					for (int y = 0; y < p[c].height; y++) seen += p[c].pix[(size_t)y * (size_t)p[c].stride + (size_t)(p[c].width - 1)];
		}
		sw_free_frame(&fr);
		if (k == 20 && next_random(4) == 0) sw_seek(r, (double)next_random(3));
	}
	if (got == 0) sum->ended++;
	sw_bad_count(r);
	sw_close(r);
}

int main(int argc, char **argv) {
	if (argc != 5) return 2;
	FILE *f = fopen(argv[1], "rb");
	if (!f) return 2;
	fseek(f, 0, SEEK_END);
	size_t n = (size_t)ftell(f);
	rewind(f);
	uint8_t *good = malloc(n), *bad = malloc(n);
	tally *sum = mmap(NULL, sizeof *sum, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
	if (!good || !bad || sum == MAP_FAILED || fread(good, 1, n, f) != n) return 2;
	fclose(f);
	int times = atoi(argv[3]), asserted = 0, failed = 0;
	double slowest = 0;
	long most = 0;
	for (int i = 0; i < times; i++) {
		unsigned long long seed = strtoull(argv[2], NULL, 10) + (unsigned)i;
		state = seed * 0x9e3779b97f4a7c15ULL + 1;
		for (int k = 0; k < 8; k++) next_random(0);
		memcpy(bad, good, n);
		size_t len = damage(bad, n, (int)next_random(5));
		if (!(f = fopen(argv[4], "wb")) || fwrite(bad, 1, len, f) != len || fclose(f)) return 2;
		fflush(NULL);
		pid_t child = fork();
		if (child == 0) {
			struct rlimit cpu = {30, 31};
			setrlimit(RLIMIT_CPU, &cpu);
			alarm(300); // one that waits for ever uses no time
			free(good);
			free(bad);
			read_all(argv[4], sum);
			exit(0);
		}
		int status = 0;
		struct rusage u;
		if (child < 0 || wait4(child, &status, 0, &u) < 0) return 2;
		double s = (double)(u.ru_utime.tv_sec + u.ru_stime.tv_sec) + 1e-6 * (double)(u.ru_utime.tv_usec + u.ru_stime.tv_usec);
		if (s > slowest) slowest = s;
		if (u.ru_maxrss / 1024 > most) most = u.ru_maxrss / 1024;
		const char *why = NULL;
		if (WIFSIGNALED(status) && WTERMSIG(status) == SIGABRT) asserted++;
		else if (WIFSIGNALED(status)) why = WTERMSIG(status) == SIGXCPU || WTERMSIG(status) == SIGALRM ? "still reading after 30 s of processor time" : "fell";
		else if (WEXITSTATUS(status)) why = "a sanitizer complained";
		else if (u.ru_maxrss / 1024 > 600) why = "more than 600 MB";
		if (why) {
			failed++;
			fprintf(stderr, "%s, seed %llu: %s\n", argv[1], seed, why);
		}
	}
	const char *name = strrchr(argv[1], '/');
	printf("%s: %d damaged, %d opened, %d read to an end, %ld frames, %d ended by an assertion of the library, slowest %.1f s of processor time, at most %ld MB, %d failed\n",
		name ? name + 1 : argv[1], times, sum->opened, sum->ended, sum->frames, asserted, slowest, most, failed);
	free(good);
	free(bad);
	unlink(argv[4]);
	return failed != 0;
}
