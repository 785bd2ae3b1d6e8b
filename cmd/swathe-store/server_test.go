package main

import (
	"bytes"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/aws/aws-sdk-go-v2/aws"
	"github.com/aws/aws-sdk-go-v2/aws/signer/v4"
	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// The tests' own program stands in for swathe-store.
func TestMain(m *testing.M) {
	if os.Getenv("SWATHE_TEST_AS") == "store" {
		main()
		os.Exit(0)
	}
	os.Setenv("SWATHE_TEST_AS", "store")
	os.Exit(m.Run())
}

const keyID, secret, bucket = "AKIDTESTER", "a-secret-that-nobody-may-see", "lab"

// objectServer is a server that speaks S3: another project's, in memory, with the
// signatures of requests checked before it sees them, by the signer of the SDK.
type objectServer struct {
	*httptest.Server
	cut     atomic.Bool // the body of what is fetched is broken off in the middle
	refused atomic.Int64
}

func newServer(t *testing.T) (*objectServer, string) {
	t.Helper()
	t.Setenv("AWS_ACCESS_KEY_ID", keyID)
	t.Setenv("AWS_SECRET_ACCESS_KEY", secret)
	t.Setenv("AWS_EC2_METADATA_DISABLED", "true")
	t.Setenv("AWS_CONFIG_FILE", os.DevNull)
	t.Setenv("AWS_SHARED_CREDENTIALS_FILE", os.DevNull)
	backend := s3mem.New()
	if err := backend.CreateBucket(bucket); err != nil {
		t.Fatal(err)
	}
	inner := gofakes3.New(backend).Server()
	s := &objectServer{}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if code := judge(r); code != "" {
			s.refused.Add(1)
			w.Header().Set("Content-Type", "application/xml")
			w.WriteHeader(http.StatusForbidden)
			fmt.Fprintf(w, `<?xml version="1.0" encoding="UTF-8"?><Error><Code>%s</Code><Message>no</Message><RequestId>1</RequestId></Error>`, code)
			return
		}
		if s.cut.Load() && r.Method == "GET" && strings.Contains(r.URL.Path, "/objects/") {
			rec := httptest.NewRecorder()
			inner.ServeHTTP(rec, r)
			for k, v := range rec.Header() {
				w.Header()[k] = v
			}
			w.Header().Set("Content-Length", fmt.Sprint(rec.Body.Len()))
			_, _ = w.Write(rec.Body.Bytes()[:rec.Body.Len()/2])
			panic(http.ErrAbortHandler)
		}
		inner.ServeHTTP(w, r)
	}))
	t.Cleanup(s.Close)
	return s, "s3://" + bucket + "?region=us-east-1&use_path_style=true&endpoint=" + s.URL
}

// judge signs a request once more, with what the tester should hold, and returns the
// code of S3's error where the signature is another one, or "".
func judge(r *http.Request) string {
	auth := r.Header.Get("Authorization")
	if !strings.Contains(auth, "Credential="+keyID+"/") {
		return "InvalidAccessKeyId"
	}
	_, after, _ := strings.Cut(auth, "SignedHeaders=")
	names, _, _ := strings.Cut(after, ",")
	again := r.Clone(r.Context())
	again.Header = http.Header{}
	again.URL.Host, again.URL.Scheme, again.Host = r.Host, "http", r.Host
	again.ContentLength = 0
	for _, n := range strings.Split(names, ";") {
		switch n {
		case "host":
		case "content-length":
			again.ContentLength = r.ContentLength
		default:
			again.Header[http.CanonicalHeaderKey(n)] = r.Header.Values(n)
		}
	}
	at, err := time.Parse("20060102T150405Z", r.Header.Get("X-Amz-Date"))
	if err != nil {
		return "AccessDenied"
	}
	err = v4.NewSigner(func(o *v4.SignerOptions) { o.DisableURIPathEscaping = true }).SignHTTP(r.Context(), aws.Credentials{AccessKeyID: keyID, SecretAccessKey: secret}, again,
		r.Header.Get("X-Amz-Content-Sha256"), "s3", "us-east-1", at)
	if err != nil || !bytes.Equal([]byte(again.Header.Get("Authorization")), []byte(auth)) {
		return "SignatureDoesNotMatch"
	}
	return ""
}
