package page_test

import (
	"bytes"
	"image"
	"image/png"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"pawl/labels"
	"pawl/model"
)

// Whoever was let in can leave: a viewer with one tap, a board for whoever shows
// their badge there.
func TestSigningOut(t *testing.T) {
	b := openBay(t)
	devices := b.boss.open("/devices/add")
	viewer, board := b.phone(), b.phone()
	viewer.open(devices.press("Make the link", "kind=viewer", "name=Adjuster", "until=2027-01-01").wayIn()).press("Let this device in").
		press("Sign out").with(200).says("Signed out")
	viewer.open("/me").with(401)

	board.open(devices.press("Make the link", "kind=shop", "name=Wall board").wayIn()).press("Let this device in")
	page := board.open("/me").press("Sign out").with(403).says("Say who you are")
	page = page.press("Sign out", "badge=Tech A").with(400).says("That is no badge that can be read")
	page = page.press("Sign out", "badge=B/XXXXXXXX").with(403).says("nobody here has the badge").keeps("badge=")
	board.open("/me").with(200)
	badge, err := b.shop.Badge(t.Context(), model.By{Actor: computer}, "Tech A")
	if err != nil {
		t.Fatal(err)
	}
	page.press("Sign out", "badge="+badge.Symbol).with(200).says("Signed out")
	board.open("/scan").with(401)
	b.boss.open("/devices").says("Wall board")
}

// The only device by which a manager comes in stays, and the page says what to do
// first; beside another it goes.
func TestTheLastManagersDeviceStays(t *testing.T) {
	b := openBay(t) // whose manager has a desk
	phone := b.phone()
	phone.open(b.boss.open("/me").press("Let in another device of yours").wayIn()).press("Let this device in")
	b.boss.open("/devices") // the desk still leads
	if _, err := b.shop.RevokeDevice(t.Context(), model.By{Actor: computer}, b.boss.actor.Device); err != nil {
		t.Fatal(err)
	}
	phone.open("/me").press("Sign out").with(409).says("By this device alone a manager comes in", "Let another phone of a manager in first", "At the shop's computer it can be ended now")
	only, err := b.shop.Devices(t.Context(), model.By{Actor: computer})
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, phone.url+"/devices/"+only[len(only)-1].ID+"/revoke", strings.NewReader("at=me"))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	phone.send(r).with(409).says("By this device alone a manager comes in")
	spanish := *phone
	spanish.lang = "es"
	spanish.open("/me").press("Cerrar sesión").with(409).says("Solo por este aparato entra un gerente")

	second := b.phone()
	second.open(phone.open("/me").press("Let in another device of yours").wayIn()).press("Let this device in").with(200)
	phone.open("/me").press("Sign out").with(200).says("Signed out")
	second.open("/today").with(200)
}

// A photo of a label that is shown to a board leads to what typing its number
// would, needs no badge, and is not kept.
func TestABoardReadsAPhoto(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	number := strings.TrimPrefix(tool, "/t/")
	label, err := b.shop.LabelText(t.Context(), model.By{Actor: computer}, number)
	if err != nil {
		t.Fatal(err)
	}
	var photo bytes.Buffer
	if err := labels.PNG(&photo, label, labels.PNGOptions{DPI: 300}); err != nil {
		t.Fatal(err)
	}
	board := b.board()
	if got := board.photographed(photo.Bytes()).with(200).says("breaker bar", "It is in its place."); got.path != tool {
		t.Errorf("it leads to %s", got.path)
	}
	var blank bytes.Buffer
	if err := png.Encode(&blank, image.NewGray(image.Rect(0, 0, 600, 400))); err != nil {
		t.Fatal(err)
	}
	board.photographed(blank.Bytes()).with(422).says("no label could be read")
	board.photographed([]byte("no picture")).with(422).says("no label could be read")
	// A photo is larger than what a badge may come in.
	noise := image.NewGray(image.Rect(0, 0, 1500, 1500))
	for i := range noise.Pix {
		noise.Pix[i] = byte(i * i >> 3)
	}
	var large bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.NoCompression}).Encode(&large, noise); err != nil {
		t.Fatal(err)
	}
	board.photographed(large.Bytes()).with(422)
}

// photographed sends a photo of a label.
func (p *walker) photographed(photo []byte) shown {
	p.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	file, err := form.CreateFormFile("label", "label.png")
	if err != nil {
		p.Fatal(err)
	}
	file.Write(photo)
	if err := form.Close(); err != nil {
		p.Fatal(err)
	}
	r, err := http.NewRequestWithContext(p.Context(), http.MethodPost, p.url+"/scan", &body)
	if err != nil {
		p.Fatal(err)
	}
	r.Header.Set("Content-Type", form.FormDataContentType())
	return p.send(r)
}
