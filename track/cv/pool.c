//go:build cgo && customenv

#include "share.h"
#include <libavutil/buffer.h>
#include <libavutil/imgutils.h>
#include <pthread.h>
#include <stdlib.h>

struct sw_pool {
	pthread_mutex_t lock;
	AVBufferPool *pool;
	size_t size; // of its buffers
};

sw_pool *sw_pool_new(void) {
	sw_pool *p = calloc(1, sizeof *p);
	if (p) pthread_mutex_init(&p->lock, NULL);
	return p;
}

void sw_pool_free(sw_pool *p) {
	if (!p) return;
	av_buffer_pool_uninit(&p->pool);
	pthread_mutex_destroy(&p->lock);
	free(p);
}

static AVBufferRef *take(sw_pool *p, size_t size) {
	pthread_mutex_lock(&p->lock);
	if (p->size != size) { // the size may change within a recording
		av_buffer_pool_uninit(&p->pool);
		p->pool = av_buffer_pool_init(size, av_buffer_allocz);
		p->size = size;
	}
	AVBufferRef *b = p->pool ? av_buffer_pool_get(p->pool) : NULL;
	pthread_mutex_unlock(&p->lock);
	return b;
}

// What avcodec_default_get_buffer2 does, but for the pool.
static int get_buffer(AVCodecContext *c, AVFrame *f, int flags) {
	if (f->format != AV_PIX_FMT_YUV420P && f->format != AV_PIX_FMT_YUVJ420P) return avcodec_default_get_buffer2(c, f, flags);
	const size_t align = 64, behind = 32; // bytes that the decoder may touch
	int w = f->width, h = f->height, by[AV_NUM_DATA_POINTERS] = {0}, line[4] = {0}, odd;
	avcodec_align_dimensions2(c, &w, &h, by);
	do { // every line of every plane must begin on a multiple
		if (av_image_fill_linesizes(line, f->format, w) < 0) return AVERROR(EINVAL);
		w += w & ~(w - 1);
		odd = 0;
		for (int i = 0; i < 3; i++) odd |= by[i] > 0 ? line[i] % by[i] : 0;
	} while (odd);
	size_t size[4] = {0}, all = 0;
	ptrdiff_t lines[4] = {line[0], line[1], line[2], 0};
	if (av_image_fill_plane_sizes(size, f->format, h, lines) < 0) return AVERROR(EINVAL);
	for (int i = 0; i < 3; i++) {
		size[i] = (size[i] + behind + align - 1) & ~(align - 1);
		all += size[i];
	}
	AVBufferRef *b = take(c->opaque, all + align);
	if (!b) return AVERROR(ENOMEM);
	uint8_t *at = (uint8_t *)(((uintptr_t)b->data + align - 1) & ~(uintptr_t)(align - 1));
	f->buf[0] = b;
	for (int i = 0; i < 3; at += size[i++]) {
		f->data[i] = at;
		f->linesize[i] = line[i];
	}
	f->extended_data = f->data;
	return 0;
}

void sw_pool_serve(sw_pool *p, AVCodecContext *c) {
	c->opaque = p;
	c->get_buffer2 = get_buffer;
}
