"""HDF5 files that take their numbers from other files are told from those that do not.

The files were written by h5py 3 in the library's earliest and latest form, and are kept packed.
"""

from __future__ import annotations

import base64
import zlib
from pathlib import Path

import numpy as np
import pytest
import rasterio

from terrain.errors import TerrainError
from terrain.ground.raster.containers import leads_elsewhere
from terrain.ground.raster.read import read_dem

LEADING = {
    "files": (
        "c-rgqaB<`1lHy_j0S*oZ76t(ZWbhvfHn5`dVe$!3nh{EOK<O1sFmXn(oCH){5NbZUx{x4OSCH!eXaHtU"
        "1`CAdU>F4>5qP*d27u@YC?A$ePcWgXt3peU9u(Tk$iN0MixI}xfY3}30WPRITr@M#rHoMbG9sm5Rv-=H"
        "GciF7Vh5Vb2vq~hF$Or&dkO<g9Fn7$8DTjk1x;lDP2)iVEt~^bP}S+DmL%&JBo-H!L);bY=kEgY7tB8j"
        "%%f?V8~_0DFFRx"
    ),
    "files, new": (
        "c-rgqaB<`1lHy|K;9!7(|4{Iq5yCfsiZ9I(_4W5~31VWXU=l)B2m@S93_vYxJPbgJv1&8SJP!t{fpeR9"
        "Cxe{;w182Cfq{vMk&z23hl^(BVPF(s0J#YSI2c%gu4Lw7*8rLT7G-4E5A`Sqnr$gingi%tW=5DVVWJE*"
        "3<C<}uDl5KaCHm-u_d5lP>(R&XGB%2pIVZvUyxW_Tn=$P0J?TICj"
    ),
    "link": (
        "c-rgqaB<`1lHy_j0S*oZ76t(ZWbhvfGMG{MF!=;1%?PDCp!5nRm^ceqP68?}05x9$YMuvFJS51~71?}r"
        "dq%;?1|F`C0U$a8%IAR6Czw#x!O~#>mF#7Lr(EnQlMCn)MkMuY(Dcp7;lNnM$-t1Pmto4FU&R0bI!`*_"
    ),
    "link, new": (
        "c-rgqaB<`1lHy|K;9!7(|4^_Q$~S=0Q$xeL{XJZQm>4RUgpd`&02dPjBLf4Q00RRfhXZ33Cj&#GUWO@y"
        "eiZ|Q3j<ZaUfsZV05XvyEd"
    ),
    "many links": (
        "c-rgqaB<`1lHy|K;9!7(|4^XJ2H_h(#RXmkOZj`a1TirjVG;r>gi1_ggwR|}3?SALh9Lp2Ta=%23-SnH"
        "U<Y!T7z7wF0-zVl-wyR3P!%c-1tLV+$bzI3Vx$6)R%U^TO-b+Na|-crVPFNR;|7YPXmB#Y?10&FS+PmW"
        "Ef}bZp%=w01dXsSfT03t2TX<&YLgTLDt++N_jgVqK5h)Gni+T47%l>Zgcx4(T;^o(X9O|XC+Mj#WC2A5"
        "8P@g(=`qX&GxwRC(qq^URx4`d;?D3G%yd&c7tF8@te`S$Nen|Zm|3A9k-;DdHZ1MV;(CTiu&62bgt-ho"
        "VCH|z`}-IY!3ydWvkx<<fkhw5{6E3K4i??Gmh~KiIaqXm(eeunwqQ~2Xt%2jU%?jdnHT+<!2_(|Qjgd-"
        "22n86zhUx!25qp~uzl%145I)Ca0?E0g(q}IV9F{6u~XhgPjmBdae`-c5Sa9%Xb~fa15=d&Cj&#GUWO@y"
        "eiZ{)zz|))2wlJ!UBCogz!Y7;3|+t+UBCiez!Ft}xysN0L&Ok6#0W#g7(>JaL&OwA#0*2k97DtcLj>8)"
        "g9-ou>JFeM"
    ),
    "layout": (
        "c-rgqaB<`1lHy_j0S*oZ76t(ZWbhvf7$ng6P>=wn8KHCslwQFE6K4d=LA5goLd{247ZT*^3R3+a4Z!R%"
        "V1dva45MHq0uNWm01zDk<-=0x2_{r^RcPtagF<^58Q36ZF~ay75Sj@hzy(!@i)IG8lo9G)Mx+$X3Zy}N"
        "CT56198e#zFvF5KM70o<3*tFU=gDSZs2I?A2=?=L0p(~|K2%^HO`D@&6bx11?(FZwh*Y4$%1s{zw1PBI"
        "FT)gAx-ugPfdCT{UjmH}0-R7Rsy)XD+1?5KqhUV^M!_f;1*2dTjDk@x3P!;w7zLwX6wnI*0Nk50N&"
    ),
    "layout, new": (
        "c-rmNI|>3Z5C-5siH~Jnb+HmV!CGwWeW6<jg1v>E;00uFu(gGrK?FhX;T1fHf^OCX)<UolLHIuiLncEq"
        "q?srf42y2fRgMGeZlL<yw@khpMfpiEm`bc<C0%H_5(3D1h=T}E_PzjLb3PW=NelJP##^QrglGU#3gMdC"
        "cTsr|K6H<ogKXTjDmWz|qhNj^Ioso}OmBxPh=_<jG3rmo$*}WNgD=*z1vW8nF4_p8QYlU9fvR&-nsSj0"
        "+GniKc9+-pwq^b~5fKp)5fRa^JpjYhF@6"
    ),
}


def unpacked(name: str) -> bytes:
    return zlib.decompress(base64.b85decode(LEADING[name]))


@pytest.mark.parametrize("name", LEADING)
def test_what_leads_to_another_file_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "a.h5").write_bytes(unpacked(name))
    with pytest.raises(TerrainError, match=r"a.h5 takes numbers from another file: give trust"):
        read_dem(tmp_path / "a.h5")


@pytest.mark.skipif(not Path("/etc/passwd").exists(), reason="a file that this system has not")
def test_the_library_would_write_a_file_of_passwords_out_as_heights(tmp_path: Path) -> None:
    (tmp_path / "a.h5").write_bytes(unpacked("files"))
    with (
        pytest.warns(rasterio.errors.NotGeoreferencedWarning),
        rasterio.open(tmp_path / "a.h5", driver="HDF5") as raster,
    ):
        assert bytes(raster.read(1).ravel()) == Path("/etc/passwd").read_bytes()[:100]


@pytest.mark.parametrize("kind", ["<i2", ">i2", "<i4", "<f4", "u1"])
@pytest.mark.parametrize("most", [12, 300, 4000])
def test_heights_are_not_taken_for_messages(kind: str, most: int) -> None:
    rng = np.random.default_rng(most)
    for _ in range(4):
        heights = rng.integers(0, min(most, 255 if kind == "u1" else most), 300_000)
        assert not leads_elsewhere(heights.astype(kind).tobytes())
    assert not leads_elsewhere(rng.bytes(2_000_000))
