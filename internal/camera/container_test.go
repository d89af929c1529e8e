package camera

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSniff(t *testing.T) {
	ts := bytes.Repeat(append([]byte{0x47}, make([]byte, 187)...), 4)
	m2ts := append(make([]byte, 4), bytes.Repeat(append([]byte{0x47}, make([]byte, 191)...), 4)...)
	for _, tc := range []struct {
		head string
		want kind
	}{
		{"", unknownKind},
		{"R", unknownKind},
		{"RIFF\x10\x00\x00\x00AVI LIST", aviVideo},
		{"RIFF\x10\x00\x00\x00WAVEfmt ", unknownKind},
		{"RIFF\x10\x00\x00\x00WEBPVP8 ", webpPicture},
		{"RIFX\x00\x00\x00\x10AVI ", unknownKind},
		{"\x00\x00\x00\x20ftypisom", mp4Video},
		{"\x00\x00\x00\x14ftypqt  ", mp4Video},
		{"\x00\x00\x00\x18ftypheic", heifPicture},
		{"\x00\x00\x00\x18ftypavif", heifPicture},
		{"\x00\x00\x00\x08wide\x00\x00\x00\x00mdat", mp4Video},
		{"\x00\x00\x20\x00moov", mp4Video},
		{"\x30\x00\x00\x00mdat", mp4Video},
		{"the free encyclopaedia", unknownKind},
		{"for free", unknownKind},
		{"\x1a\x45\xdf\xa3\x01", matroskaVideo},
		{"\x00\x00\x01\xba\x44", psVideo},
		{string(ts), tsVideo},
		{string(m2ts), tsVideo},
		{string(ts[:600-60]), unknownKind},
		{"\xff\xd8\xff\xe0", jpegPicture},
		{"\x89PNG\r\n\x1a\n", pngPicture},
		{"\x89PNG\n", unknownKind},
		{"GIF89a", gifPicture},
		{"II*\x00", tiffPicture},
		{"MM\x00*", tiffPicture},
		{"BM\x36\x00\x00\x00\x00\x00\x00\x00", bmpPicture},
		{"BMW drives by", unknownKind},
		{"#EXTM3U", unknownKind},
	} {
		require.Equal(t, tc.want, sniff([]byte(tc.head)), "%.20q", tc.head)
	}
	for k := unknownKind; k <= heifPicture; k++ {
		require.False(t, k.video() && k.picture())
		require.Equal(t, k == unknownKind, !k.video() && !k.picture())
	}
}

func TestOutlines(t *testing.T) {
	avi := writeClip(t, 65, 33, 5, 30)
	for _, tc := range []struct {
		path string
		want outline
	}{
		{avi, outline{kind: aviVideo, width: 65, height: 33}},
		{tinyVideos()[0], outline{kind: mp4Video, width: 64, height: 48, orientation: 1}},
		{tinyVideos()[1], outline{kind: matroskaVideo, width: 64, height: 48}},
		{tinyVideos()[2], outline{kind: tsVideo}},
		{tinyVideos()[3], outline{kind: psVideo}},
	} {
		o, err := examine(tc.path)
		require.NoError(t, err)
		require.Equal(t, tc.want, o, tc.path)
	}
	// Top-down bitmaps have a negative height.
	b := patched(t, readFile(t, avi), "strf", 4+8, le(0xffffffdf)...)
	o, err := examineFrom(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	require.Equal(t, 33, o.height)
}

// A file of nothing but empty chunks must not be walked for ever.
func TestOutlineIsBounded(t *testing.T) {
	avi := readFile(t, writeClip(t, 16, 16, 1, 30))
	b := append(append([]byte(nil), avi...), make([]byte, 64<<20)...)
	copy(b[4:], le(uint32(len(b))))
	o, err := examineFrom(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	require.True(t, o.truncated)
	require.Equal(t, 1, o.whole)
}

// Every prefix and every damaged byte of a header gives an outline or an
// error, and an outline within the limits.
func TestOutlineOfDamagedHeaders(t *testing.T) {
	files := append([]string{writeClip(t, 16, 16, 2, 30)}, tinyVideos()...)
	for _, path := range files {
		whole := readFile(t, path)
		for n := range min(len(whole), 1200) {
			checkOutline(t, whole[:n])
			for _, v := range []byte{0, 1, 0x80, 0xff} {
				b := append([]byte(nil), whole...)
				b[n] = v
				checkOutline(t, b)
			}
		}
	}
}

func checkOutline(t testing.TB, b []byte) {
	o, err := examineFrom(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		require.NotEmpty(t, err.Error())
		return
	}
	require.True(t, o.kind.video())
	require.GreaterOrEqual(t, o.whole, 0)
	require.LessOrEqual(t, o.whole, len(b)/8)
	require.True(t, o.orientation >= 0 && o.orientation <= 8)
	switch o.kind {
	case aviVideo, mp4Video, matroskaVideo:
		require.NoError(t, checkSize(o.width, o.height), fmt.Sprint(o))
	}
}

func FuzzOutline(f *testing.F) {
	for _, path := range append([]string{writeClip(f, 16, 16, 2, 30)}, tinyVideos()...) {
		b := readFile(f, path)
		f.Add(b)
		f.Add(b[:len(b)/2])
	}
	f.Fuzz(func(t *testing.T, b []byte) { checkOutline(t, b) })
}
