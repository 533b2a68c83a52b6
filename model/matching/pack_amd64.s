#include "go_asm.h"
#include "textflag.h"

// func followPack(p *pack, codes *byte, bounds *float32, columns int) (done int)
//
// Throughout: DI is the pack, SI the codes of this column, DX the bounds after it, R10
// the highest state of this column. Y0, Y1 are a state before this column, Y2, Y3 the
// state just filled, Y4, Y5 what a gap has gathered, Y6, Y7 what the serials may still
// come to.
TEXT ·followPack(SB), NOSPLIT, $40-40
	MOVQ p+0(FP), DI
	MOVQ codes+8(FP), SI
	MOVQ bounds+16(FP), DX

	// What is too small for a float32 is nothing: to go on with it would take as long
	// as a hundred sums.
	STMXCSR control-8(SP)
	MOVL    control-8(SP), AX
	ORL     $0x8040, AX
	MOVL    AX, flushing-4(SP)
	LDMXCSR flushing-4(SP)

	VXORPS  Y0, Y0, Y0
	VMOVUPS Y0, pack_lost(DI)
	VMOVUPS Y0, (pack_lost+32)(DI)
	MOVQ    pack_f(DI), R8
	MOVQ    pack_begin(DI), R9
	MOVQ    pack_last(DI), R12

begin:
	VBROADCASTSS (R9), Y0
	VMULPS       pack_are(DI), Y0, Y1
	VMULPS       (pack_are+32)(DI), Y0, Y2
	VMOVUPS      Y1, (R8)
	VMOVUPS      Y2, 32(R8)
	ADDQ         $4, R9
	ADDQ         $64, R8
	DECQ         R12
	JGE          begin
	MOVQ         pack_hi(DI), R10

column:
	// How far up the states of this column reach.
	INCQ    R10
	CMPQ    R10, pack_last(DI)
	CMOVQGT pack_last(DI), R10
	MOVQ    R10, R9
	SHLQ    $5, R9
	ADDQ    pack_steps(DI), R9
	MOVLQZX step_ahead(R9), AX
	ADDQ    AX, R10
	MOVQ    R10, hi-40(SP)

	// The likelihoods of the cells up to there, turned so that the serials lie side by
	// side: four cells of eight serials at a time.
	SHLQ    $5, AX
	MOVLQZX step_cells(R9)(AX*1), AX
	ADDQ    $3, AX
	SHRQ    $2, AX
	SUBQ    pack_past(DI), AX
	JLE     states
	MOVQ    AX, fours-24(SP)
	MOVQ    SI, half-16(SP)
	MOVQ    $2, halves-32(SP)
	MOVQ    pack_turned(DI), BX

turn:
	MOVQ    half-16(SP), AX
	MOVQ    pack_stride(DI), R15
	MOVBLZX (AX), R8
	MOVBLZX (AX)(R15*1), R9
	MOVBLZX (AX)(R15*2), R10
	MOVBLZX (AX)(R15*4), R12
	ADDQ    R15, AX
	MOVBLZX (AX)(R15*2), R11
	MOVBLZX (AX)(R15*4), R13
	ADDQ    R15, AX
	MOVBLZX (AX)(R15*4), R14
	ADDQ    R15, AX
	MOVBLZX (AX)(R15*4), CX
	LEAQ    (AX)(R15*4), AX
	ADDQ    R15, AX
	MOVQ    AX, half-16(SP)
	MOVQ    pack_width(DI), R15
	IMULQ   R15, R8
	IMULQ   R15, R9
	IMULQ   R15, R10
	IMULQ   R15, R11
	IMULQ   R15, R12
	IMULQ   R15, R13
	IMULQ   R15, R14
	IMULQ   R15, CX
	MOVQ    pack_rows(DI), R15
	MOVQ    fours-24(SP), AX

four:
	VMOVUPS     (R15)(R8*1), X8
	VINSERTF128 $1, (R15)(R12*1), Y8, Y8
	VMOVUPS     (R15)(R9*1), X9
	VINSERTF128 $1, (R15)(R13*1), Y9, Y9
	VMOVUPS     (R15)(R10*1), X10
	VINSERTF128 $1, (R15)(R14*1), Y10, Y10
	VMOVUPS     (R15)(R11*1), X11
	VINSERTF128 $1, (R15)(CX*1), Y11, Y11
	VUNPCKLPS   Y9, Y8, Y12
	VUNPCKHPS   Y9, Y8, Y13
	VUNPCKLPS   Y11, Y10, Y14
	VUNPCKHPS   Y11, Y10, Y15
	VSHUFPS     $0x44, Y14, Y12, Y8
	VSHUFPS     $0xEE, Y14, Y12, Y9
	VSHUFPS     $0x44, Y15, Y13, Y10
	VSHUFPS     $0xEE, Y15, Y13, Y11
	VMOVUPS     Y8, (BX)
	VMOVUPS     Y9, 64(BX)
	VMOVUPS     Y10, 128(BX)
	VMOVUPS     Y11, 192(BX)
	ADDQ        $16, R15
	ADDQ        $256, BX
	DECQ        AX
	JNZ         four

	// The other half goes beside it.
	MOVQ pack_turned(DI), BX
	ADDQ $32, BX
	DECQ halves-32(SP)
	JNZ  turn

states:
	// The states, from the first one up: R12 is which.
	MOVQ         hi-40(SP), R10
	MOVQ         pack_steps(DI), R9
	MOVQ         pack_f(DI), R8
	MOVQ         pack_like(DI), BX
	XORQ         R12, R12
	VBROADCASTSS pack_limit(DI), Y15
	VMOVUPS      (R8), Y0
	VMOVUPS      32(R8), Y1
	VBROADCASTSS step_stay(R9), Y8
	VMULPS       Y8, Y0, Y2
	VMULPS       Y8, Y1, Y3
	VMOVUPS      Y2, (R8)
	VMOVUPS      Y3, 32(R8)
	VBROADCASTSS (DX), Y8
	VMULPS       Y8, Y2, Y6
	VMULPS       Y8, Y3, Y7
	VXORPS       Y4, Y4, Y4
	VXORPS       Y5, Y5, Y5
	JMP          next

state:
	VMOVUPS (R8), Y8
	VMOVUPS 32(R8), Y9
	MOVL    step_sort(R9), AX
	TESTL   AX, AX
	JNE     gap

	VBROADCASTSS step_stay(R9), Y10
	VMULPS       Y10, Y8, Y11
	VMULPS       Y10, Y9, Y12
	VFMADD231PS  (BX), Y0, Y11
	VFMADD231PS  32(BX), Y1, Y12
	VBROADCASTSS step_extra(R9), Y10
	VFMADD213PS  Y11, Y10, Y2
	VFMADD213PS  Y12, Y10, Y3
	ADDQ         $64, BX

filled:
	VMOVUPS      Y2, (R8)
	VMOVUPS      Y3, 32(R8)
	VBROADCASTSS (DX)(R12*4), Y10
	VFMADD231PS  Y2, Y10, Y6
	VFMADD231PS  Y3, Y10, Y7
	VMOVAPS      Y8, Y0
	VMOVAPS      Y9, Y1

next:
	ADDQ $64, R8
	ADDQ $step__size, R9
	INCQ R12
	CMPQ R12, R10
	JLE  state

	// Cells too many lead further up, where that is worth it.
	CMPQ         R10, pack_last(DI)
	JGE          filledAll
	MOVQ         pack_beside(DI), R14
	ADDQ         DX, R14
	VBROADCASTSS (R14)(R10*4), Y10
	VMULPS       Y10, Y2, Y8
	VMULPS       Y10, Y3, Y9
	VMAXPS       Y8, Y9, Y10
	VCMPPS       $0x0E, Y15, Y10, Y10 // greater than the limit
	VMOVMSKPS    Y10, AX
	TESTL        AX, AX
	JEQ          lose
	MOVLQZX      step_ahead(R9), R10
	ADDQ         R12, R10
	VXORPS       Y0, Y0, Y0 // no column came there before
	VXORPS       Y1, Y1, Y1
	JMP          state

lose:
	VADDPS  pack_lost(DI), Y8, Y8
	VADDPS  (pack_lost+32)(DI), Y9, Y9
	VMOVUPS Y8, pack_lost(DI)
	VMOVUPS Y9, (pack_lost+32)(DI)

filledAll:
	INCQ      SI
	ADDQ      pack_apart(DI), DX
	DECQ      columns+24(FP)
	JZ        done
	VMAXPS    Y6, Y7, Y9
	VCMPPS    $0x0E, Y15, Y9, Y9
	VMOVMSKPS Y9, AX
	TESTL     AX, AX
	JNE       column

done:
	VMOVUPS      Y6, pack_sum(DI)
	VMOVUPS      Y7, (pack_sum+32)(DI)
	VMOVUPS      pack_lost(DI), Y8
	VADDPS       (pack_lost+32)(DI), Y8, Y8
	VADDPS       Y6, Y7, Y9
	VHADDPS      Y8, Y9, Y8
	VHADDPS      Y8, Y8, Y8
	VEXTRACTF128 $1, Y8, X9
	VADDPS       X8, X9, X8
	VMOVLPS      X8, pack_total(DI) // and what was lost
	VMAXPS       Y6, Y7, Y9
	VEXTRACTF128 $1, Y9, X8
	VMAXPS       X8, X9, X9
	VPERMILPS    $0x4E, X9, X8
	VMAXPS       X8, X9, X9
	VPERMILPS    $0xB1, X9, X8
	VMAXPS       X8, X9, X9
	VMOVSS       X9, pack_most(DI)
	VZEROUPPER
	LDMXCSR control-8(SP)
	SUBQ    codes+8(FP), SI
	MOVQ    SI, done+32(FP)
	RET

gap:
	CMPL AX, $const_stepAfter
	JEQ  after
	CMPL AX, $const_stepOpen
	JNE  within

	VBROADCASTSS step_extra(R9), Y10
	VMULPS       Y10, Y2, Y4
	VMULPS       Y10, Y3, Y5

within:
	VMOVAPS      Y0, Y2
	VMOVAPS      Y1, Y3
	VBROADCASTSS step_share(R9), Y10
	VFMADD231PS  Y10, Y2, Y4
	VFMADD231PS  Y10, Y3, Y5
	JMP          filled

after:
	VBROADCASTSS step_stay(R9), Y10
	VMOVAPS      Y4, Y2
	VMOVAPS      Y5, Y3
	VFMADD231PS  Y10, Y8, Y2
	VFMADD231PS  Y10, Y9, Y3
	JMP          filled
