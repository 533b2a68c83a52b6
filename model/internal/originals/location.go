package originals

import (
	"net"
	"net/url"
	"os"
	"path"
	"strings"

	"github.com/minio/minio-go/v7/pkg/credentials"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Location is a bucket, and what the names of its objects begin with; the zero
// Location is the folder of originals.
type Location struct{ Bucket, Prefix string }

// Names of buckets are those of the S3 user guide, "General purpose bucket naming
// rules"; a prefix has only characters that the guide calls safe in a key.
var (
	shapeBucket = pattern.Late(`^[a-z0-9][a-z0-9.-]{1,61}[a-z0-9]$`)
	shapePrefix = pattern.Late(`^[A-Za-z0-9._-]+(/[A-Za-z0-9._-]+)*$`)
)

const mostPrefix = 200 // bytes

// ParseLocation reads s3://BUCKET[/PREFIX]; nothing is the folder. What else stands in
// it, such as a secret, is Invalid, and not repeated.
func ParseLocation(text string) (Location, error) {
	if text == "" {
		return Location{}, nil
	}
	bad := fault.New(fault.Invalid, "the place of originals is not like s3://BUCKET/PREFIX").
		WithHint("the bucket has 3 to 63 lower-case letters, digits, dots and hyphens; the server and the credentials come from the environment")
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "s3" || u.User != nil || u.RawQuery != "" || u.Fragment != "" || u.Port() != "" {
		return Location{}, bad
	}
	at := Location{Bucket: u.Host, Prefix: strings.Trim(u.Path, "/")}
	if !shapeBucket().MatchString(at.Bucket) || strings.Contains(at.Bucket, "..") {
		return Location{}, bad
	}
	if at.Prefix != "" && (!shapePrefix().MatchString(at.Prefix) || path.Clean(at.Prefix) != at.Prefix || strings.HasPrefix(at.Prefix, "..") || len(at.Prefix) > mostPrefix) {
		return Location{}, bad
	}
	return at, nil
}

// String writes the location as it is read; the folder is empty.
func (l Location) String() string {
	switch {
	case l.Bucket == "":
		return ""
	case l.Prefix == "":
		return "s3://" + l.Bucket
	}
	return "s3://" + l.Bucket + "/" + l.Prefix
}

// Words names the location to a person.
func (l Location) Words() string {
	if l.Bucket == "" {
		return "the folder originals"
	}
	return l.String()
}

// way is how a server is reached, and as whom.
type way struct {
	host, region string
	secure       bool
	who          *credentials.Credentials
}

// wayFrom asks the environment, by the names that S3 clients have in common, for the
// server, its region, and the credentials or the file that holds them. Its faults are
// Invalid, without any value that may be a secret.
func wayFrom(env func(string) string) (w way, err error) {
	address := env("AWS_ENDPOINT_URL_S3")
	if address == "" {
		address = env("AWS_ENDPOINT_URL")
	}
	if address == "" {
		return w, fault.New(fault.Invalid, "the server of the bucket is not named").
			WithHint("set AWS_ENDPOINT_URL_S3 in the environment, such as https://s3.example:9000")
	}
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || u.User != nil || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" {
		return w, fault.New(fault.Invalid, "AWS_ENDPOINT_URL_S3 is no address of a server").WithHint("such as https://s3.example:9000")
	}
	w = way{host: u.Host, secure: u.Scheme == "https", region: env("AWS_REGION")}
	if w.region == "" {
		w.region = "us-east-1" // what a request is signed for where nothing is said (S3 API reference, "Signature Version 4")
	}
	if !w.secure && !loopback(u.Hostname()) && env("PAWL_UNSAFE_BUCKET") != "yes" {
		return w, fault.New(fault.Invalid, "photos and papers would go to the bucket unencrypted, by plain HTTP").
			WithHint("give an https address in AWS_ENDPOINT_URL_S3; or, knowing that all of them can be read on the way, set PAWL_UNSAFE_BUCKET=yes")
	}
	w.who, err = credentialsFrom(env)
	return w, err
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func credentialsFrom(env func(string) string) (*credentials.Credentials, error) {
	id, secret := env("AWS_ACCESS_KEY_ID"), env("AWS_SECRET_ACCESS_KEY")
	if id != "" && secret != "" {
		return credentials.NewStaticV4(id, secret, env("AWS_SESSION_TOKEN")), nil
	}
	file := env("AWS_SHARED_CREDENTIALS_FILE")
	if file == "" {
		return nil, fault.New(fault.Invalid, "there are no credentials for the bucket").
			WithHint("set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, or name the file that holds them in AWS_SHARED_CREDENTIALS_FILE")
	}
	info, err := os.Stat(file)
	if err != nil {
		return nil, fault.New(fault.Invalid, "the file in AWS_SHARED_CREDENTIALS_FILE cannot be read").WithHint("see its name and its rights").WithCause(err)
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 {
		return nil, fault.New(fault.Invalid, "the file in AWS_SHARED_CREDENTIALS_FILE has mode %04o: others can read it", mode).
			WithHint("make it yours alone: chmod 600; and change the credentials if somebody may have seen them")
	}
	profile := env("AWS_PROFILE")
	if profile == "" {
		profile = "default"
	}
	who := credentials.New(&credentials.FileAWSCredentials{Filename: file, Profile: profile})
	if v, err := who.GetWithContext(nil); err != nil || v.AccessKeyID == "" || v.SecretAccessKey == "" {
		return nil, fault.New(fault.Invalid, "the file in AWS_SHARED_CREDENTIALS_FILE has no credentials under %q", profile).
			WithHint("it holds lines [NAME], aws_access_key_id = …, aws_secret_access_key = …; AWS_PROFILE names another")
	}
	return who, nil
}
