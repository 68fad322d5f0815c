/* Windows' library of one call, bcryptprimitives.dll: ProcessPrng(data, length) fills data with random bytes. Wine has it from
   version 9 on; for an older one tests/release/wine builds it of this. */
#include <windows.h>
#include <ntsecapi.h>

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE data, SIZE_T length)
{
    return RtlGenRandom(data, (ULONG)length);
}
