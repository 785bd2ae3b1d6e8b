package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"strings"

	"github.com/aws/smithy-go"
	"gocloud.dev/gcerrors"

	"swathe/cmd/internal/store"
)

var (
	errStill   = errors.New("the transfer stood still for a minute")
	errChanged = errors.New("the file changed while it was sent; nothing was stored. Add it again")
)

// codes are the reasons of S3's error responses that a user can mend.
var codes = map[string]string{
	"SignatureDoesNotMatch":        "the store refuses the signature. Check AWS_SECRET_ACCESS_KEY, and region in the address",
	"InvalidAccessKeyId":           "the store does not know the key. Check AWS_ACCESS_KEY_ID",
	"AccessDenied":                 "the store denies access to this key's holder. Check what the key may do",
	"Forbidden":                    "the store denies access to this key's holder. Check the key and what it may do",
	"ExpiredToken":                 "the credentials have expired. Set new ones in the environment",
	"InvalidToken":                 "the store refuses the session token. Check AWS_SESSION_TOKEN",
	"RequestTimeTooSkewed":         "this machine's clock differs too much from the store's. Set it right",
	"NoSuchBucket":                 "there is no such bucket. Check the address",
	"PermanentRedirect":            "the bucket is in another region. Write that one into the address",
	"AuthorizationHeaderMalformed": "the bucket is in another region. Write that one into the address",
	"SlowDown":                     "the store asks for fewer requests; it is tried again",
}

// explain says in a sentence what went wrong, and whether there is no such object.
// No credential gets into it: what libraries say is searched for them.
func explain(q store.Request, err error) (text string, missing bool) {
	what := map[string]string{"open": "The store can't be opened", "get": q.Key + " can't be fetched", "put": q.Key + " can't be stored",
		"list": "The store can't be read", "stat": "The store can't be read", "delete": q.Key + " can't be removed from the store"}[q.Do]
	var local localError
	var api smithy.APIError
	var dns *net.DNSError
	var network net.Error
	why := ""
	switch {
	case errors.As(err, &local):
		why = "this machine's disk: " + local.Error()
	case err == errStill, err == errChanged:
		why = err.Error()
	case errors.As(err, &api) && codes[api.ErrorCode()] != "":
		why = codes[api.ErrorCode()]
	case errors.As(err, &dns):
		why = "its host name is not known. Check endpoint in the address"
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		why = "the connection was cut"
	case errors.As(err, &network) && network.Timeout():
		why = "it does not answer"
	case errors.As(err, new(*net.OpError)):
		why = "it can't be reached, or the connection was cut"
	case q.Do != "open" && gcerrors.Code(err) == gcerrors.NotFound, q.Do != "open" && errors.Is(err, fs.ErrNotExist):
		return "There is no " + q.Key + " in the store", true
	case strings.Contains(err.Error(), "failed to retrieve credentials"), strings.Contains(err.Error(), "no EC2 IMDS role"), strings.Contains(err.Error(), "failed to refresh cached credentials"):
		why = "there are no credentials. Set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY in the environment"
	case errors.Is(err, context.Canceled):
		why = "it was broken off"
	default:
		why = plain(err.Error())
	}
	return fmt.Sprintf("%s: %s", what, why), false
}

// plain takes credentials out of a text.
func plain(text string) string {
	for _, name := range []string{"AWS_SECRET_ACCESS_KEY", "AWS_ACCESS_KEY_ID", "AWS_SESSION_TOKEN"} {
		if v := os.Getenv(name); v != "" {
			text = strings.ReplaceAll(text, v, "…")
		}
	}
	return text
}
