package exchange

import (
	"bytes"
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// Address says where a bucket is and how to reach it.
type Address struct {
	// Endpoint is host or host:port.
	Endpoint string
	Bucket   string
	// Prefix before every name, with slashes between; may be empty.
	Prefix string
	Region string
	// Insecure speaks HTTP without TLS: for a server on this computer.
	Insecure bool
	// PathStyle puts the bucket into the path rather than before the host.
	PathStyle bool
	// CAFile is a PEM file of further authorities to trust.
	CAFile string
	// Key and Secret; empty takes VOLAR_S3_KEY and VOLAR_S3_SECRET.
	Key, Secret string
}

// ParseAddress reads an address as String writes it:
//
//	s3://host[:port]/bucket[/prefix][?region=…&path-style&insecure&ca=FILE]
//
// Credentials have no place in it.
func ParseAddress(s string) (Address, error) {
	bad := func(why string) (Address, error) {
		return Address{}, fmt.Errorf("address %q: %s; write s3://host/bucket", withoutUser(s), why)
	}
	u, err := url.Parse(s)
	if err != nil || u.Scheme != "s3" {
		return bad("it is not one of a bucket")
	}
	if u.User != nil {
		return bad("it must not contain credentials; set VOLAR_S3_KEY and VOLAR_S3_SECRET")
	}
	bucket, prefix, _ := strings.Cut(strings.Trim(u.Path, "/"), "/")
	if u.Host == "" || bucket == "" {
		return bad("host or bucket is missing")
	}
	a := Address{Endpoint: u.Host, Bucket: bucket, Prefix: prefix}
	q, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return bad("what follows the question mark cannot be read")
	}
	for k := range q {
		switch k {
		case "region":
			a.Region = q.Get(k)
		case "path-style":
			a.PathStyle = true
		case "insecure":
			a.Insecure = true
		case "ca":
			a.CAFile = q.Get(k)
		default:
			return bad(fmt.Sprintf("%q is not known", k))
		}
	}
	return a, nil
}

// withoutUser blots out credentials in an address that is shown.
func withoutUser(s string) string {
	if i := strings.Index(s, "://"); i >= 0 {
		if at := strings.LastIndex(s, "@"); at > i {
			return s[:i+3] + "…" + s[at:]
		}
	}
	return s
}

// String writes the address without credentials.
func (a Address) String() string {
	u := url.URL{Scheme: "s3", Host: a.Endpoint, Path: "/" + a.Bucket}
	if a.Prefix != "" {
		u.Path += "/" + a.Prefix
	}
	var q []string
	if a.Region != "" {
		q = append(q, "region="+url.QueryEscape(a.Region))
	}
	if a.PathStyle {
		q = append(q, "path-style")
	}
	if a.Insecure {
		q = append(q, "insecure")
	}
	if a.CAFile != "" {
		q = append(q, "ca="+url.QueryEscape(a.CAFile))
	}
	u.RawQuery = strings.Join(q, "&")
	return u.String()
}

// Bucket is a carrier in S3-compatible object storage.
type Bucket struct {
	addr   Address
	client *minio.Client
	// transport is kept to close idle connections.
	transport *http.Transport
}

// OpenBucket prepares a bucket; nothing is sent before the first transfer.
func OpenBucket(a Address) (*Bucket, error) {
	key, secret := cmp.Or(a.Key, os.Getenv("VOLAR_S3_KEY")), cmp.Or(a.Secret, os.Getenv("VOLAR_S3_SECRET"))
	if key == "" || secret == "" {
		return nil, fmt.Errorf("bucket %s: no credentials; set VOLAR_S3_KEY and VOLAR_S3_SECRET", a)
	}
	t, err := minio.DefaultTransport(!a.Insecure)
	if err != nil {
		return nil, fmt.Errorf("bucket %s: %w", a, err)
	}
	if a.CAFile != "" {
		pem, err := os.ReadFile(a.CAFile)
		if err != nil {
			return nil, fmt.Errorf("bucket %s: authorities: %w", a, err)
		}
		pool, err := x509.SystemCertPool()
		if err != nil {
			pool = x509.NewCertPool()
		}
		if !pool.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("bucket %s: %s holds no certificate", a, a.CAFile)
		}
		t.TLSClientConfig = &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}
	}
	style := minio.BucketLookupAuto
	if a.PathStyle {
		style = minio.BucketLookupPath
	}
	c, err := minio.New(a.Endpoint, &minio.Options{
		Creds: credentials.NewStaticV4(key, secret, ""), Secure: !a.Insecure, Region: a.Region,
		BucketLookup: style, Transport: t, MaxRetries: 1, // Retry tries again
	})
	if err != nil {
		return nil, fmt.Errorf("bucket %s: %w", a, err)
	}
	return &Bucket{a, c, t}, nil
}

// Close ends idle connections.
func (b *Bucket) Close() error {
	b.transport.CloseIdleConnections()
	return nil
}

func (b *Bucket) String() string { return b.addr.String() }

func (b *Bucket) key(name string) string {
	if b.addr.Prefix == "" {
		return name
	}
	return b.addr.Prefix + "/" + name
}

// Put asks first, since not every server understands a write that must not
// replace, and asks the server for that too where it does.
func (b *Bucket) Put(ctx context.Context, n Name, data []byte) error {
	if _, err := ParseName(n.String()); err != nil {
		return err
	}
	if _, err := b.client.StatObject(ctx, b.addr.Bucket, b.key(n.String()), minio.StatObjectOptions{}); err == nil {
		return nil
	}
	o := minio.PutObjectOptions{ContentType: "application/octet-stream", SendContentMd5: true}
	o.SetMatchETagExcept("*")
	_, err := b.client.PutObject(ctx, b.addr.Bucket, b.key(n.String()), bytes.NewReader(data), int64(len(data)), o)
	if minio.ToErrorResponse(err).StatusCode == http.StatusPreconditionFailed {
		return nil // another try got it there after all
	}
	return b.wrap(err)
}

// List passes over whatever is not a sealed file.
func (b *Bucket) List(ctx context.Context, mailbox string) ([]Entry, error) {
	prefix := b.key("")
	if mailbox != "" {
		if !isID(mailbox) {
			return nil, fmt.Errorf("%.40q is not a mailbox", mailbox)
		}
		prefix = b.key(mailbox + "/")
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // ends the lister where it is left early
	var list []Entry
	for o := range b.client.ListObjects(ctx, b.addr.Bucket, minio.ListObjectsOptions{Prefix: prefix, Recursive: true}) {
		if o.Err != nil {
			return nil, b.wrap(o.Err)
		}
		if n, err := ParseName(strings.TrimPrefix(o.Key, b.key(""))); err == nil {
			list = append(list, Entry{n, o.Size})
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	slices.SortFunc(list, func(x, y Entry) int { return cmp.Compare(x.Name.String(), y.Name.String()) })
	return list, nil
}

// Get reads one file.
func (b *Bucket) Get(ctx context.Context, n Name) ([]byte, error) {
	if _, err := ParseName(n.String()); err != nil {
		return nil, err
	}
	o, err := b.client.GetObject(ctx, b.addr.Bucket, b.key(n.String()), minio.GetObjectOptions{})
	if err != nil {
		return nil, b.wrap(err)
	}
	defer o.Close()
	in := &limited{r: o, left: MaxFile}
	data, err := io.ReadAll(in)
	if err != nil {
		return nil, in.or(b.wrap(err))
	}
	return data, nil
}

// Remove takes one file away.
func (b *Bucket) Remove(ctx context.Context, n Name) error {
	if _, err := ParseName(n.String()); err != nil {
		return err
	}
	return b.wrap(b.client.RemoveObject(ctx, b.addr.Bucket, b.key(n.String()), minio.RemoveObjectOptions{}))
}

// wrap tells what trying again may mend from what it does not.
func (b *Bucket) wrap(err error) error {
	if err == nil {
		return nil
	}
	switch r := minio.ToErrorResponse(err); {
	case r.Code == "NoSuchKey":
		return fmt.Errorf("%s: %w", b, fs.ErrNotExist)
	case r.StatusCode >= 400 && r.StatusCode < 500 && r.StatusCode != http.StatusRequestTimeout && r.StatusCode != http.StatusTooManyRequests:
		return &RefusedError{b.String(), err}
	}
	return fmt.Errorf("%s: %w", b, err)
}
