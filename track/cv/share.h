// Recordings decoded by several readers side by side, in turn by closed groups
// of frames: each group begins with a frame behind which nothing rests on
// anything before it, so whoever decodes it needs nothing of the others'.
#ifndef SWATHE_SHARE_H
#define SWATHE_SHARE_H
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>

typedef struct {
	int of, turn; // of so many readers this is the turn-th; of 0: it reads all
	int64_t group; // of the last packet, from 0; -1 before the first
	int ending;    // its group is over and the decoder gives what it still has
} sw_sharer;

enum { SW_OTHERS, SW_OURS, SW_OVER };

// Bytes of a unit's length in an H.264 stream's packets, 0 where units begin
// with 0 0 1.
int sw_unit_length(const AVStream *s);
// The type and nal_ref_idc of the first unit of a packet that holds picture
// (ITU-T H.264, 7.4.1), -1 if it cannot be read.
int sw_first_unit(const uint8_t *p, int n, int len, int *ref);
// Whose the next packet is: SW_OURS, SW_OTHERS, or SW_OVER where it is the
// first that is not ours behind a group of ours.
int sw_share_whose(sw_sharer *s, const AVPacket *p, int len);
// The mean length of a recording's closed groups, s, by the container's index;
// 0 if there are not two, or they are not known or not closed. The place in the
// file changes.
double sw_share_length(AVFormatContext *c, int stream);

// Memory for decoded frames, from which several decoders take: each by itself
// would keep as much as it ever needed at once.
typedef struct sw_pool sw_pool;
sw_pool *sw_pool_new(void);
void sw_pool_free(sw_pool *p); // frames still held stay valid
// Has a decoder of a single thread take its frames from p, which must outlive it.
void sw_pool_serve(sw_pool *p, AVCodecContext *c);
#endif
