#include "go_asm.h"
#include "textflag.h"

// func followPack(p *pack, codes *byte, bounds *float32, columns int) (done int)
//
// Throughout: DI is the pack, SI the codes of this column, DX the bounds after it, R10
// the highest state of this column. A register holds one number of each serial: Z0 a
// state before this column, Z1 the state just filled, Z2 what a gap has gathered, Z3
// what the serials may still come to, Z4 what was let go of, Z5 the limit, Z6 how far
// the serials stand apart, Z7 their codes, of which K1 says which are from 32 on.
TEXT ·followPack(SB), NOSPLIT, $8-40
	MOVQ p+0(FP), DI
	MOVQ codes+8(FP), SI
	MOVQ bounds+16(FP), DX
	MOVQ columns+24(FP), CX

	// What is too small for a float32 is nothing: to go on with it would take as long
	// as a hundred sums.
	STMXCSR control-8(SP)
	MOVL    control-8(SP), AX
	ORL     $0x8040, AX
	MOVL    AX, flushing-4(SP)
	LDMXCSR flushing-4(SP)

	VPXORD       Z4, Z4, Z4
	VMOVUPS      pack_at(DI), Z6
	MOVL         $255, AX
	VPBROADCASTD AX, Z12
	MOVL         $32, AX
	VPBROADCASTD AX, Z13
	VBROADCASTSS pack_limit(DI), Z5
	VMOVUPS      pack_are(DI), Z14
	MOVQ         pack_f(DI), R8
	MOVQ         pack_begin(DI), R9
	MOVQ         pack_last(DI), R12

begin:
	VMULPS.BCST (R9), Z14, Z0
	VMOVUPS Z0, (R8)
	ADDQ    $4, R9
	ADDQ    $64, R8
	DECQ    R12
	JGE     begin
	MOVQ    pack_hi(DI), R10

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

	// The codes of this place.
	KXNORW     K2, K2, K2
	VPXORD     Z7, Z7, Z7
	VPGATHERDD (SI)(Z6*1), K2, Z7
	VPANDD     Z12, Z7, Z7
	VPCMPUD    $5, Z13, Z7, K1 // not less

	// The states, from the first one up: R12 is which.
	MOVQ        pack_steps(DI), R9
	MOVQ        pack_f(DI), R8
	MOVQ        pack_likes(DI), BX
	XORQ        R12, R12
	VMOVUPS     (R8), Z0
	VMULPS.BCST step_stay(R9), Z0, Z1
	VMOVUPS     Z1, (R8)
	VMULPS.BCST (DX), Z1, Z3
	VPXORD      Z2, Z2, Z2
	JMP         next

state:
	VMOVUPS (R8), Z8
	MOVL    step_sort(R9), AX
	TESTL   AX, AX
	JNE     gap

	VMOVUPS          (BX), Z9
	VPERMT2PS        64(BX), Z7, Z9
	VPERMPS          128(BX), Z7, K1, Z9
	VMULPS.BCST      step_stay(R9), Z8, Z10
	VFMADD231PS      Z9, Z0, Z10
	VFMADD132PS.BCST step_extra(R9), Z10, Z1
	ADDQ             $192, BX

filled:
	VMOVUPS          Z1, (R8)
	VFMADD231PS.BCST (DX)(R12*4), Z1, Z3
	VMOVAPS          Z8, Z0

next:
	ADDQ $64, R8
	ADDQ $step__size, R9
	INCQ R12
	CMPQ R12, R10
	JLE  state

	// Cells too many lead further up, where that is worth it.
	CMPQ        R10, pack_last(DI)
	JGE         filledAll
	MOVQ        pack_beside(DI), R14
	ADDQ        DX, R14
	VMULPS.BCST (R14)(R10*4), Z1, Z8
	VCMPPS      $0x0E, Z5, Z8, K3 // greater than the limit
	KORTESTW    K3, K3
	JEQ         lose
	MOVLQZX     step_ahead(R9), R10
	ADDQ        R12, R10
	VPXORD      Z0, Z0, Z0 // no column came there before
	JMP         state

lose:
	VADDPS Z8, Z4, Z4

filledAll:
	INCQ     SI
	ADDQ     pack_apart(DI), DX
	DECQ     CX
	JZ       done
	VCMPPS   $0x0E, Z5, Z3, K3
	KORTESTW K3, K3
	JNE      column

done:
	VMOVUPS       Z3, pack_sum(DI)
	VMOVUPS       Z4, pack_lost(DI)
	VEXTRACTF64X4 $1, Z3, Y8
	VADDPS        Y8, Y3, Y9
	VMAXPS        Y8, Y3, Y10
	VEXTRACTF64X4 $1, Z4, Y8
	VADDPS        Y8, Y4, Y8
	VHADDPS       Y8, Y9, Y8
	VHADDPS       Y8, Y8, Y8
	VEXTRACTF128  $1, Y8, X9
	VADDPS        X8, X9, X8
	VMOVLPS       X8, pack_total(DI) // and what was lost behind it
	VEXTRACTF128  $1, Y10, X8
	VMAXPS        X8, X10, X9
	VPERMILPS     $0x4E, X9, X8
	VMAXPS        X8, X9, X9
	VPERMILPS     $0xB1, X9, X8
	VMAXPS        X8, X9, X9
	VMOVSS        X9, pack_most(DI)
	VZEROUPPER
	LDMXCSR       control-8(SP)
	SUBQ          codes+8(FP), SI
	MOVQ          SI, done+32(FP)
	RET

gap:
	CMPL        AX, $const_stepAfter
	JEQ         after
	CMPL        AX, $const_stepOpen
	JNE         within
	VMULPS.BCST step_extra(R9), Z1, Z2

within:
	VMOVAPS          Z0, Z1
	VFMADD231PS.BCST step_share(R9), Z1, Z2
	JMP              filled

after:
	VMOVAPS          Z2, Z1
	VFMADD231PS.BCST step_stay(R9), Z8, Z1
	JMP              filled
