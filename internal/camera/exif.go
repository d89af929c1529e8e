package camera

import (
	"bytes"
	"encoding/binary"
)

// orientation returns the EXIF orientation (CIPA DC-008, tag 274) of a picture
// file: 1 to 8, and 1 where there is none or it is garbled. A picture is never
// refused for its metadata.
func orientation(k kind, b []byte) int {
	switch k {
	case jpegPicture:
		return tiffOrientation(jpegExif(b))
	case pngPicture:
		return tiffOrientation(pngExif(b))
	case webpPicture:
		return tiffOrientation(webpExif(b))
	case tiffPicture:
		return tiffOrientation(b)
	}
	return 1
}

// jpegExif finds the APP1 segment with EXIF data, before the first scan.
func jpegExif(b []byte) []byte {
	const sos, app1 = 0xda, 0xe1
	for b = b[2:]; len(b) >= 4; {
		if b[0] != 0xff {
			return nil
		}
		if b[1] == 0xff { // padding
			b = b[1:]
			continue
		}
		n := int(binary.BigEndian.Uint16(b[2:])) + 2
		if b[1] == sos || n < 4 || n > len(b) {
			return nil
		}
		if data, ok := bytes.CutPrefix(b[4:n], []byte("Exif\x00\x00")); ok && b[1] == app1 {
			return data
		}
		b = b[n:]
	}
	return nil
}

// pngExif finds the eXIf chunk, which may stand before or after the pixels.
func pngExif(b []byte) []byte {
	for b = b[8:]; len(b) >= 12; {
		n := uint64(binary.BigEndian.Uint32(b))
		if n+12 > uint64(len(b)) {
			return nil
		}
		if string(b[4:8]) == "eXIf" {
			return b[8 : 8+n]
		}
		b = b[n+12:]
	}
	return nil
}

// webpExif finds the EXIF chunk of an extended WebP file.
func webpExif(b []byte) []byte {
	for b = b[12:]; len(b) >= 8; {
		n := uint64(binary.LittleEndian.Uint32(b[4:]))
		if n+8 > uint64(len(b)) {
			return nil
		}
		if string(b[:4]) == "EXIF" {
			// Some writers keep the prefix that JPEG wants.
			return bytes.TrimPrefix(b[8:8+n], []byte("Exif\x00\x00"))
		}
		b = b[min(n+n&1+8, uint64(len(b))):]
	}
	return nil
}

// tiffOrientation reads tag 274 from the first directory of a TIFF structure.
func tiffOrientation(b []byte) int {
	const tagOrientation, typeShort = 274, 3
	if len(b) < 8 {
		return 1
	}
	var order binary.ByteOrder
	switch string(b[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return 1
	}
	at := uint64(order.Uint32(b[4:]))
	if at+2 > uint64(len(b)) {
		return 1
	}
	entries := b[at+2:]
	for n := order.Uint16(b[at:]); n > 0 && len(entries) >= 12; n-- {
		if order.Uint16(entries) == tagOrientation && order.Uint16(entries[2:]) == typeShort {
			if o := int(order.Uint16(entries[8:])); o >= 1 && o <= 8 {
				return o
			}
			return 1
		}
		entries = entries[12:]
	}
	return 1
}
