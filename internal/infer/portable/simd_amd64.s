//go:build amd64 && !purego

#include "textflag.h"

// func tile(k int, x *float32, ldx int, panel, bias, y *float32, ldy int, lo, hi float32)
//
// Y0…Y11 gather the tile, two registers a row. Y12 and Y13 are a row of the
// panel, Y14 and Y15 numbers of x. R9 is the fourth row of x.
TEXT ·tile(SB), NOSPLIT, $0-64
	MOVQ k+0(FP), CX
	MOVQ x+8(FP), SI
	MOVQ ldx+16(FP), R8
	MOVQ panel+24(FP), DI
	MOVQ bias+32(FP), BX
	MOVQ y+40(FP), DX
	MOVQ ldy+48(FP), R10
	SHLQ $2, R8
	SHLQ $2, R10
	LEAQ (SI)(R8*2), R9
	ADDQ R8, R9
	VMOVUPS (BX), Y0
	VMOVUPS 32(BX), Y1
	VMOVAPS Y0, Y2
	VMOVAPS Y1, Y3
	VMOVAPS Y0, Y4
	VMOVAPS Y1, Y5
	VMOVAPS Y0, Y6
	VMOVAPS Y1, Y7
	VMOVAPS Y0, Y8
	VMOVAPS Y1, Y9
	VMOVAPS Y0, Y10
	VMOVAPS Y1, Y11

tileLoop:
	VMOVUPS (DI), Y12
	VMOVUPS 32(DI), Y13
	VBROADCASTSS (SI), Y14
	VBROADCASTSS (SI)(R8*1), Y15
	VFMADD231PS Y12, Y14, Y0
	VFMADD231PS Y13, Y14, Y1
	VBROADCASTSS (SI)(R8*2), Y14
	VFMADD231PS Y12, Y15, Y2
	VFMADD231PS Y13, Y15, Y3
	VBROADCASTSS (R9), Y15
	VFMADD231PS Y12, Y14, Y4
	VFMADD231PS Y13, Y14, Y5
	VBROADCASTSS (R9)(R8*1), Y14
	VFMADD231PS Y12, Y15, Y6
	VFMADD231PS Y13, Y15, Y7
	VBROADCASTSS (R9)(R8*2), Y15
	VFMADD231PS Y12, Y14, Y8
	VFMADD231PS Y13, Y14, Y9
	VFMADD231PS Y12, Y15, Y10
	VFMADD231PS Y13, Y15, Y11
	ADDQ $64, DI
	ADDQ $4, SI
	ADDQ $4, R9
	DECQ CX
	JNZ tileLoop

	// The number is the second operand of VMAXPS and VMINPS in Intel's order
	// (the first written here), so that one that is not a number stays so.
	VBROADCASTSS lo+56(FP), Y12
	VBROADCASTSS hi+60(FP), Y13
	VMAXPS Y0, Y12, Y0
	VMAXPS Y1, Y12, Y1
	VMAXPS Y2, Y12, Y2
	VMAXPS Y3, Y12, Y3
	VMAXPS Y4, Y12, Y4
	VMAXPS Y5, Y12, Y5
	VMAXPS Y6, Y12, Y6
	VMAXPS Y7, Y12, Y7
	VMAXPS Y8, Y12, Y8
	VMAXPS Y9, Y12, Y9
	VMAXPS Y10, Y12, Y10
	VMAXPS Y11, Y12, Y11
	VMINPS Y0, Y13, Y0
	VMINPS Y1, Y13, Y1
	VMINPS Y2, Y13, Y2
	VMINPS Y3, Y13, Y3
	VMINPS Y4, Y13, Y4
	VMINPS Y5, Y13, Y5
	VMINPS Y6, Y13, Y6
	VMINPS Y7, Y13, Y7
	VMINPS Y8, Y13, Y8
	VMINPS Y9, Y13, Y9
	VMINPS Y10, Y13, Y10
	VMINPS Y11, Y13, Y11
	VMOVUPS Y0, (DX)
	VMOVUPS Y1, 32(DX)
	ADDQ R10, DX
	VMOVUPS Y2, (DX)
	VMOVUPS Y3, 32(DX)
	ADDQ R10, DX
	VMOVUPS Y4, (DX)
	VMOVUPS Y5, 32(DX)
	ADDQ R10, DX
	VMOVUPS Y6, (DX)
	VMOVUPS Y7, 32(DX)
	ADDQ R10, DX
	VMOVUPS Y8, (DX)
	VMOVUPS Y9, 32(DX)
	ADDQ R10, DX
	VMOVUPS Y10, (DX)
	VMOVUPS Y11, 32(DX)
	VZEROUPPER
	RET

// Fields of window8.
#define X 0
#define XROW 8
#define XCOL 16
#define XNEXT 24
#define W 32
#define WROW 40
#define Y 48
#define BIAS 56
#define ROWS 64
#define COLS 72
#define VECTORS 80
#define LO 88
#define HI 92

// Both functions below go over vectors of channels (SI, DX, BX move on by 32
// bytes), rows (R11, from R14) and columns (R12, from R13) of taps. A weight is
// found by its distance from the tap in the picture (DI, R15), as both move on
// alike from column to column.

// func depthwise4(d *window8)
//
// Y0…Y3 gather four pixels.
TEXT ·depthwise4(SB), NOSPLIT, $0-8
	MOVQ d+0(FP), AX
	MOVQ X(AX), SI
	MOVQ W(AX), DI
	SUBQ SI, DI
	MOVQ Y(AX), DX
	MOVQ BIAS(AX), BX
	MOVQ XCOL(AX), R8
	MOVQ XNEXT(AX), R9
	LEAQ (R9)(R9*2), R10
	MOVQ VECTORS(AX), CX
	VBROADCASTSS LO(AX), Y8
	VBROADCASTSS HI(AX), Y9

fourVectors:
	VMOVUPS (BX), Y0
	VMOVAPS Y0, Y1
	VMOVAPS Y0, Y2
	VMOVAPS Y0, Y3
	MOVQ ROWS(AX), R11
	MOVQ SI, R14
	MOVQ DI, R15

fourRows:
	MOVQ COLS(AX), R12
	MOVQ R14, R13

fourCols:
	VMOVUPS (R13)(R15*1), Y4
	VFMADD231PS (R13), Y4, Y0
	VFMADD231PS (R13)(R9*1), Y4, Y1
	VFMADD231PS (R13)(R9*2), Y4, Y2
	VFMADD231PS (R13)(R10*1), Y4, Y3
	ADDQ R8, R13
	DECQ R12
	JNZ fourCols
	ADDQ XROW(AX), R14
	SUBQ XROW(AX), R15
	ADDQ WROW(AX), R15
	DECQ R11
	JNZ fourRows

	VMAXPS Y0, Y8, Y0
	VMAXPS Y1, Y8, Y1
	VMAXPS Y2, Y8, Y2
	VMAXPS Y3, Y8, Y3
	VMINPS Y0, Y9, Y0
	VMINPS Y1, Y9, Y1
	VMINPS Y2, Y9, Y2
	VMINPS Y3, Y9, Y3
	// Pixels of the result are as far from one another as columns of the
	// picture: all its channels.
	MOVQ DX, R13
	VMOVUPS Y0, (R13)
	ADDQ R8, R13
	VMOVUPS Y1, (R13)
	ADDQ R8, R13
	VMOVUPS Y2, (R13)
	ADDQ R8, R13
	VMOVUPS Y3, (R13)
	ADDQ $32, SI
	ADDQ $32, DX
	ADDQ $32, BX
	DECQ CX
	JNZ fourVectors
	VZEROUPPER
	RET

// func depthwise1(d *window8)
//
// Y0 gathers one pixel.
TEXT ·depthwise1(SB), NOSPLIT, $0-8
	MOVQ d+0(FP), AX
	MOVQ X(AX), SI
	MOVQ W(AX), DI
	SUBQ SI, DI
	MOVQ Y(AX), DX
	MOVQ BIAS(AX), BX
	MOVQ XCOL(AX), R8
	MOVQ VECTORS(AX), CX
	VBROADCASTSS LO(AX), Y8
	VBROADCASTSS HI(AX), Y9

oneVector:
	VMOVUPS (BX), Y0
	MOVQ ROWS(AX), R11
	MOVQ SI, R14
	MOVQ DI, R15

oneRow:
	MOVQ COLS(AX), R12
	MOVQ R14, R13

oneCol:
	VMOVUPS (R13)(R15*1), Y4
	VFMADD231PS (R13), Y4, Y0
	ADDQ R8, R13
	DECQ R12
	JNZ oneCol
	ADDQ XROW(AX), R14
	SUBQ XROW(AX), R15
	ADDQ WROW(AX), R15
	DECQ R11
	JNZ oneRow

	VMAXPS Y0, Y8, Y0
	VMINPS Y0, Y9, Y0
	VMOVUPS Y0, (DX)
	ADDQ $32, SI
	ADDQ $32, DX
	ADDQ $32, BX
	DECQ CX
	JNZ oneVector
	VZEROUPPER
	RET

// func addVectors(n int, y, x *float32)
TEXT ·addVectors(SB), NOSPLIT, $0-24
	MOVQ n+0(FP), CX
	MOVQ y+8(FP), DX
	MOVQ x+16(FP), SI

addLoop:
	VMOVUPS (DX), Y0
	VADDPS (SI), Y0, Y0
	VMOVUPS Y0, (DX)
	ADDQ $32, SI
	ADDQ $32, DX
	DECQ CX
	JNZ addLoop
	VZEROUPPER
	RET

// func rectifyVectors(n int, y, slope *float32)
TEXT ·rectifyVectors(SB), NOSPLIT, $0-24
	MOVQ n+0(FP), CX
	MOVQ y+8(FP), DX
	MOVQ slope+16(FP), SI
	VXORPS Y3, Y3, Y3

rectifyLoop:
	VMOVUPS (DX), Y0
	VMAXPS Y0, Y3, Y1
	VMINPS Y0, Y3, Y2
	VFMADD231PS (SI), Y2, Y1
	VMOVUPS Y1, (DX)
	ADDQ $32, SI
	ADDQ $32, DX
	DECQ CX
	JNZ rectifyLoop
	VZEROUPPER
	RET
