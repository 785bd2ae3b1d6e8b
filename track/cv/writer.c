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
	struct SwsContext *to420;
	int64_t last, step; // ticks of the encoder's time base: the last frame's time, a frame's length
	int begun;
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
	sws_freeContext(w->to420);
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

static int open_all(sw_writer *w, const char *path, int width, int height, double fps, const char *preset, int crf,
                    char *err, int n) {
	int e = avformat_alloc_output_context2(&w->fmt, NULL, NULL, path);
	if (e < 0) return say(err, n, "no container goes with this file name; end it in .mp4", e);
	const AVCodec *codec = avcodec_find_encoder_by_name("libx264");
	if (!codec) return say(err, n, "this system's libavcodec has no H.264 encoder (libx264)", 0);
	w->enc = avcodec_alloc_context3(codec);
	w->stream = avformat_new_stream(w->fmt, NULL);
	w->frame = av_frame_alloc();
	w->pkt = av_packet_alloc();
	if (!w->enc || !w->stream || !w->frame || !w->pkt) return say(err, n, "out of memory", 0);
	AVRational rate = av_d2q(fps, 100000);
	AVCodecContext *c = w->enc;
	c->time_base = clock_of(rate, &w->step);
	c->framerate = rate;
	c->width = width;
	c->height = height;
	c->pix_fmt = AV_PIX_FMT_YUV420P;
	c->sample_aspect_ratio = (AVRational){1, 1};
	// High definition has the colours of BT.709, what is smaller those of BT.601.
	int high = height >= 720;
	c->colorspace = high ? AVCOL_SPC_BT709 : AVCOL_SPC_SMPTE170M;
	c->color_primaries = high ? AVCOL_PRI_BT709 : AVCOL_PRI_SMPTE170M;
	c->color_trc = high ? AVCOL_TRC_BT709 : AVCOL_TRC_SMPTE170M;
	c->color_range = AVCOL_RANGE_MPEG;
	c->gop_size = fmax(1, lround(2 * fps)); // a player can go to any two seconds
	if (w->fmt->oformat->flags & AVFMT_GLOBALHEADER) c->flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
	if (av_opt_set(c->priv_data, "preset", preset, 0) < 0 || av_opt_set_double(c->priv_data, "crf", crf, 0) < 0)
		return say(err, n, "the encoder does not take this preset and quality", 0);
	e = avcodec_open2(c, codec, NULL);
	if (e < 0) return say(err, n, "the encoder does not start; is the preset one of x264's?", e);
	w->stream->time_base = c->time_base;
	w->stream->avg_frame_rate = rate;
	w->stream->sample_aspect_ratio = c->sample_aspect_ratio;
	if (avcodec_parameters_from_context(w->stream->codecpar, c) < 0) return say(err, n, "out of memory", 0);
	w->to420 = sws_getContext(width, height, AV_PIX_FMT_BGR24, width, height, AV_PIX_FMT_YUV420P, SWS_BILINEAR | SWS_ACCURATE_RND, NULL, NULL, NULL);
	if (w->to420)
		sws_setColorspaceDetails(w->to420, sws_getCoefficients(SWS_CS_DEFAULT), 1, sws_getCoefficients(high ? SWS_CS_ITU709 : SWS_CS_ITU601), 0, 0, 1 << 16, 1 << 16);
	w->frame->format = c->pix_fmt;
	w->frame->width = width;
	w->frame->height = height;
	if (!w->to420 || av_frame_get_buffer(w->frame, 0) < 0) return say(err, n, "out of memory", 0);
	e = avio_open(&w->fmt->pb, path, AVIO_FLAG_WRITE);
	if (e < 0) return say(err, n, "the file cannot be made", e);
	AVDictionary *o = NULL;
	av_dict_set(&o, "movflags", "+faststart", 0); // the index at the front: a browser starts at once
	e = avformat_write_header(w->fmt, &o);
	av_dict_free(&o);
	if (e < 0) return say(err, n, "the file's head cannot be written; is the disk full?", e);
	return 0;
}

int sw_create(const char *path, int width, int height, double fps, const char *preset, int crf,
              sw_writer **out, char *err, int errlen) {
	av_log_set_level(AV_LOG_QUIET);
	sw_writer *w = calloc(1, sizeof *w);
	if (!w) return say(err, errlen, "out of memory", 0);
	if (open_all(w, path, width, height, fps, preset, crf, err, errlen) < 0) {
		drop(w);
		return -1;
	}
	*out = w;
	return 0;
}

// pass gives a frame, or NULL at the end, to the encoder and writes what it returns.
static int pass(sw_writer *w, AVFrame *f, char *err, int n) {
	int e = avcodec_send_frame(w->enc, f);
	if (e < 0) return say(err, n, "the encoder takes no more frames", e);
	for (;;) {
		e = avcodec_receive_packet(w->enc, w->pkt);
		if (e == AVERROR(EAGAIN) || e == AVERROR_EOF) return 0;
		if (e < 0) return say(err, n, "the encoder failed", e);
		w->pkt->stream_index = w->stream->index;
		w->pkt->duration = w->step;
		av_packet_rescale_ts(w->pkt, w->enc->time_base, w->stream->time_base);
		e = av_interleaved_write_frame(w->fmt, w->pkt);
		if (e < 0) return say(err, n, "the file cannot be written; is the disk full?", e);
	}
}

int sw_write(sw_writer *w, const uint8_t *bgr, double t, char *err, int errlen) {
	int64_t ts = llround(t / av_q2d(w->enc->time_base));
	if (w->begun && ts <= w->last) return say(err, errlen, "its time is not after the frame before", 0);
	w->begun = 1;
	w->last = ts;
	// The encoder may still hold the last picture.
	if (av_frame_make_writable(w->frame) < 0) return say(err, errlen, "out of memory", 0);
	const uint8_t *src[4] = {bgr};
	int line[4] = {3 * w->enc->width};
	sws_scale(w->to420, src, line, 0, w->enc->height, w->frame->data, w->frame->linesize);
	w->frame->pts = ts;
	return pass(w, w->frame, err, errlen);
}

int sw_finish(sw_writer *w, char *err, int errlen) {
	int bad = 0;
	if (w->begun) bad = pass(w, NULL, err, errlen);
	int e = av_write_trailer(w->fmt);
	if (e < 0 && !bad) bad = say(err, errlen, "the file's end cannot be written; is the disk full?", e);
	e = avio_closep(&w->fmt->pb);
	if (e < 0 && !bad) bad = say(err, errlen, "the file cannot be closed; is the disk full?", e);
	drop(w);
	return bad;
}
