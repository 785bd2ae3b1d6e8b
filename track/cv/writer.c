//go:build cgo && customenv

#include "writer.h"
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/opt.h>
#include <libswscale/swscale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct sw_writer {
	AVFormatContext *fmt;
	AVCodecContext *enc;
	AVStream *stream;
	AVFrame *frame;
	AVPacket *pkt;
	struct SwsContext *convert;
	enum AVPixelFormat from;
	int64_t last, step; // ticks of the encoder's time base: the last frame's time, a frame's length
	int begun;
	// Of ProRes, whose frames stand by themselves: the last packet written, and when it
	// is to be written again, as far as the encoder has not yet given it.
	AVPacket *kept;
	int64_t *again;
	int n_again, room;
};

static int say(char *err, int n, const char *what, int code) {
	char b[128] = "";
	if (code) av_strerror(code, b, sizeof b);
	snprintf(err, n, code ? "%s (%s)" : "%s", what, b);
	return -1;
}

static void drop(sw_writer *w) {
	if (w->fmt && w->fmt->pb) avio_closep(&w->fmt->pb);
	avformat_free_context(w->fmt);
	avcodec_free_context(&w->enc);
	av_frame_free(&w->frame);
	av_packet_free(&w->pkt);
	av_packet_free(&w->kept);
	free(w->again);
	sws_freeContext(w->convert);
	free(w);
}

// clock_of chooses ticks of which a frame's length is a whole number and that
// are no longer than 1/80000 s, so that even times are exact and uneven ones
// are kept to the hundredth of a millisecond.
static AVRational clock_of(AVRational rate, int64_t *step) {
	int k = 1;
	while ((int64_t)rate.num * k < 80000) k++;
	*step = (int64_t)rate.den * k;
	return (AVRational){1, rate.num * k};
}

// kind is one way of keeping pictures in a file.
static const struct kind {
	const char *name, *encoder;
	enum AVPixelFormat from, to; // what is handed over, what is encoded
	const char *lack;
} kinds[] = {
	{"h264", "libx264", AV_PIX_FMT_BGR24, AV_PIX_FMT_YUV420P, "this system's libavcodec has no H.264 encoder (libx264)"},
	{"png", NULL, AV_PIX_FMT_RGBA, AV_PIX_FMT_RGBA, ""},
	{"prores", "prores_ks", AV_PIX_FMT_BGRA, AV_PIX_FMT_YUVA444P10, "this system's libavcodec has no ProRes encoder (prores_ks)"},
	{"vp9", "libvpx-vp9", AV_PIX_FMT_BGRA, AV_PIX_FMT_YUVA420P, "this system's libavcodec has no VP9 encoder (libvpx-vp9)"},
};

// tune sets what each encoder wants to know.
static int tune(AVCodecContext *c, const sw_plan *p) {
	void *o = c->priv_data;
	if (!strcmp(p->kind, "h264"))
		return av_opt_set(o, "preset", p->preset, 0) < 0 || av_opt_set_double(o, "crf", p->crf, 0) < 0;
	if (!strcmp(p->kind, "prores")) { // alpha of 8 bits, kept to the bit: see keep_alpha
		// One quality for all: to search one for each slice takes five times as long.
		c->flags |= AV_CODEC_FLAG_QSCALE;
		c->global_quality = FF_QP2LAMBDA;
		return av_opt_set(o, "profile", "4444", 0) < 0 || av_opt_set(o, "alpha_bits", "8", 0) < 0 || av_opt_set(o, "vendor", "apl0", 0) < 0;
	}
	c->bit_rate = 0;
	// Alpha is encoded as colour is: only what loses nothing keeps its edges.
	return av_opt_set(o, "lossless", "1", 0) < 0 || av_opt_set(o, "deadline", "realtime", 0) < 0 || av_opt_set(o, "cpu-used", "7", 0) < 0 ||
	       av_opt_set(o, "row-mt", "1", 0) < 0 || av_opt_set(o, "auto-alt-ref", "0", 0) < 0;
}

static int open_all(sw_writer *w, const char *path, const sw_plan *p, char *err, int n) {
	const struct kind *k = NULL;
	for (unsigned i = 0; i < sizeof kinds / sizeof *kinds; i++)
		if (!strcmp(kinds[i].name, p->kind)) k = &kinds[i];
	if (!k) return say(err, n, "there is no such kind of film", 0);
	int e = avformat_alloc_output_context2(&w->fmt, NULL, NULL, path);
	if (e < 0) return say(err, n, "no container goes with this file name; end it in .mp4", e);
	const AVCodec *codec = k->encoder ? avcodec_find_encoder_by_name(k->encoder) : NULL;
	if (!codec && k->encoder) return say(err, n, k->lack, 0);
	w->from = k->from;
	w->enc = avcodec_alloc_context3(codec);
	w->stream = avformat_new_stream(w->fmt, NULL);
	w->frame = av_frame_alloc();
	w->pkt = av_packet_alloc();
	w->kept = av_packet_alloc();
	if (!w->enc || !w->stream || !w->frame || !w->pkt || !w->kept) return say(err, n, "out of memory", 0);
	AVRational rate = av_d2q(p->fps, 100000);
	AVCodecContext *c = w->enc;
	c->time_base = clock_of(rate, &w->step);
	c->framerate = rate;
	c->width = p->width;
	c->height = p->height;
	c->pix_fmt = k->to;
	c->sample_aspect_ratio = (AVRational){1, 1};
	c->thread_count = 2;
	// High definition has the colours of BT.709; what is smaller has those of its
	// source, BT.601 if that says none.
	int high = p->height >= 720 || !strcmp(p->colour, "bt709"), pal = !high && !strcmp(p->colour, "bt470bg");
	c->color_range = AVCOL_RANGE_MPEG;
	c->colorspace = high ? AVCOL_SPC_BT709 : pal ? AVCOL_SPC_BT470BG : AVCOL_SPC_SMPTE170M;
	c->color_primaries = high ? AVCOL_PRI_BT709 : pal ? AVCOL_PRI_BT470BG : AVCOL_PRI_SMPTE170M;
	c->color_trc = high ? AVCOL_TRC_BT709 : AVCOL_TRC_SMPTE170M; // of both BT.601: the same curve
	if (k->to == AV_PIX_FMT_RGBA) {
		c->color_range = AVCOL_RANGE_JPEG;
		c->colorspace = AVCOL_SPC_RGB;
	}
	c->gop_size = fmax(1, lround(2 * p->fps)); // a player can go to any two seconds
	if (w->fmt->oformat->flags & AVFMT_GLOBALHEADER) c->flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
	if (codec) {
		if (tune(c, p)) return say(err, n, "the encoder does not take this preset and quality", 0);
		e = avcodec_open2(c, codec, NULL);
		if (e < 0) return say(err, n, "the encoder does not start; is the preset one of x264's?", e);
	} else {
		c->codec_type = AVMEDIA_TYPE_VIDEO;
		c->codec_id = AV_CODEC_ID_PNG;
		c->bits_per_coded_sample = 32;
	}
	w->stream->time_base = c->time_base;
	w->stream->avg_frame_rate = rate;
	w->stream->sample_aspect_ratio = c->sample_aspect_ratio;
	if (avcodec_parameters_from_context(w->stream->codecpar, c) < 0) return say(err, n, "out of memory", 0);
	if (*p->timecode) av_dict_set(&w->stream->metadata, "timecode", p->timecode, 0);
	if (k->to == AV_PIX_FMT_YUVA420P) av_dict_set(&w->stream->metadata, "alpha_mode", "1", 0);
	if (codec) {
		w->convert = sws_getContext(p->width, p->height, k->from, p->width, p->height, k->to, SWS_BILINEAR | SWS_ACCURATE_RND, NULL, NULL, NULL);
		if (w->convert)
			sws_setColorspaceDetails(w->convert, sws_getCoefficients(SWS_CS_DEFAULT), 1, sws_getCoefficients(high ? SWS_CS_ITU709 : SWS_CS_ITU601), 0, 0, 1 << 16, 1 << 16);
		w->frame->format = c->pix_fmt;
		w->frame->width = p->width;
		w->frame->height = p->height;
		if (!w->convert || av_frame_get_buffer(w->frame, 0) < 0) return say(err, n, "out of memory", 0);
	}
	e = avio_open(&w->fmt->pb, path, AVIO_FLAG_WRITE);
	if (e < 0) return say(err, n, "the file cannot be made", e);
	AVDictionary *o = NULL;
	av_dict_set(&o, "movflags", "+faststart", 0); // the index at the front: a browser starts at once
	e = avformat_write_header(w->fmt, &o);
	av_dict_free(&o);
	if (e < 0) return say(err, n, "the file's head cannot be written; is the disk full?", e);
	return 0;
}

int sw_create(const char *path, const sw_plan *plan, sw_writer **out, char *err, int errlen) {
	av_log_set_level(AV_LOG_QUIET);
	sw_writer *w = calloc(1, sizeof *w);
	if (!w) return say(err, errlen, "out of memory", 0);
	if (open_all(w, path, plan, err, errlen) < 0) {
		drop(w);
		return -1;
	}
	*out = w;
	return 0;
}

// put writes a packet that has the encoder's times.
static int put(sw_writer *w, AVPacket *p, char *err, int n) {
	p->stream_index = w->stream->index;
	p->duration = w->step;
	av_packet_rescale_ts(p, w->enc->time_base, w->stream->time_base);
	int e = av_interleaved_write_frame(w->fmt, p);
	return e < 0 ? say(err, n, "the file cannot be written; is the disk full?", e) : 0;
}

// repeat writes the last packet again, at each time that was asked for before one.
static int repeat(sw_writer *w, int64_t before, char *err, int n) {
	int i = 0, bad = 0;
	for (; !bad && i < w->n_again && w->again[i] < before; i++) {
		AVPacket *p = av_packet_clone(w->kept);
		if (!p) return say(err, n, "out of memory", 0);
		p->pts = p->dts = w->again[i];
		bad = put(w, p, err, n);
		av_packet_free(&p);
	}
	w->n_again -= i;
	memmove(w->again, w->again + i, w->n_again * sizeof *w->again);
	return bad;
}

// pass gives a frame, or NULL at the end, to the encoder and writes what it returns.
static int pass(sw_writer *w, AVFrame *f, char *err, int n) {
	int e = avcodec_send_frame(w->enc, f);
	if (e < 0) return say(err, n, "the encoder takes no more frames", e);
	for (;;) {
		e = avcodec_receive_packet(w->enc, w->pkt);
		if (e == AVERROR(EAGAIN) || e == AVERROR_EOF) return 0;
		if (e < 0) return say(err, n, "the encoder failed", e);
		if (w->enc->codec_id == AV_CODEC_ID_PRORES) {
			if (repeat(w, w->pkt->pts, err, n) < 0) return -1;
			av_packet_unref(w->kept);
			if (av_packet_ref(w->kept, w->pkt) < 0) return say(err, n, "out of memory", 0);
		}
		if (put(w, w->pkt, err, n) < 0) return -1;
	}
}

// keep_alpha puts alpha as it is into its plane: of 8 bits, or of 10, whose upper 8
// the encoder keeps. swscale rounds a part of the values up.
static void keep_alpha(AVFrame *f, const uint8_t *bgra) {
	for (int y = 0; y < f->height; y++) {
		uint8_t *row = f->data[3] + (ptrdiff_t)y * f->linesize[3];
		for (int x = 0; x < f->width; x++, bgra += 4)
			if (f->format == AV_PIX_FMT_YUVA444P10) ((uint16_t *)row)[x] = bgra[3] << 2 | bgra[3] >> 6;
			else row[x] = bgra[3];
	}
}

// tick is the time of the next frame.
static int tick(sw_writer *w, double t, int64_t *ts, char *err, int n) {
	*ts = llround(t / av_q2d(w->enc->time_base));
	if (w->begun && *ts <= w->last) return say(err, n, "its time is not after the frame before", 0);
	w->begun = 1;
	w->last = *ts;
	return 0;
}

int sw_put(sw_writer *w, const uint8_t *png, int size, double t, char *err, int errlen) {
	int64_t ts;
	if (w->enc->codec_id != AV_CODEC_ID_PNG) return say(err, errlen, "this kind of film takes no encoded pictures", 0);
	if (tick(w, t, &ts, err, errlen) < 0) return -1;
	if (av_new_packet(w->pkt, size) < 0) return say(err, errlen, "out of memory", 0);
	memcpy(w->pkt->data, png, size);
	w->pkt->pts = w->pkt->dts = ts;
	w->pkt->flags |= AV_PKT_FLAG_KEY;
	return put(w, w->pkt, err, errlen);
}

int sw_again(sw_writer *w, double t, char *err, int errlen) {
	int64_t ts;
	if (w->enc->codec_id != AV_CODEC_ID_PRORES || !w->begun) return say(err, errlen, "no frame can be repeated here", 0);
	if (tick(w, t, &ts, err, errlen) < 0) return -1;
	if (w->n_again == w->room) {
		int64_t *more = realloc(w->again, (2 * w->room + 64) * sizeof *more);
		if (!more) return say(err, errlen, "out of memory", 0);
		w->again = more;
		w->room = 2 * w->room + 64;
	}
	w->again[w->n_again++] = ts;
	return 0;
}

int sw_write(sw_writer *w, const uint8_t *pix, double t, char *err, int errlen) {
	int64_t ts;
	if (!w->convert) return say(err, errlen, "this kind of film takes encoded pictures only", 0);
	if (tick(w, t, &ts, err, errlen) < 0) return -1;
	// The encoder may still hold the last picture.
	if (av_frame_make_writable(w->frame) < 0) return say(err, errlen, "out of memory", 0);
	const uint8_t *src[4] = {pix};
	int line[4] = {(w->from == AV_PIX_FMT_BGRA ? 4 : 3) * w->enc->width};
	sws_scale(w->convert, src, line, 0, w->enc->height, w->frame->data, w->frame->linesize);
	if (w->frame->data[3]) keep_alpha(w->frame, pix);
	w->frame->pts = ts;
	return pass(w, w->frame, err, errlen);
}

int sw_finish(sw_writer *w, char *err, int errlen) {
	int bad = 0;
	if (w->begun && w->convert && !(bad = pass(w, NULL, err, errlen))) bad = repeat(w, INT64_MAX, err, errlen);
	int e = av_write_trailer(w->fmt);
	if (e < 0 && !bad) bad = say(err, errlen, "the file's end cannot be written; is the disk full?", e);
	e = avio_closep(&w->fmt->pb);
	if (e < 0 && !bad) bad = say(err, errlen, "the file cannot be closed; is the disk full?", e);
	drop(w);
	return bad;
}
